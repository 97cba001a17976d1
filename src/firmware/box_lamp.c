#include "box_lamp.h"

#define BLINK_MS 250                   /* of a counted one: on, and off */
#define PAUSE_MS 700                   /* dark before and behind them */
#define SHORT_MS 150

static uint32_t count_ms;
static uint8_t counted;

void lamp_count(uint8_t count, uint32_t now_ms)
{
    counted = count;
    count_ms = now_ms;
}

uint8_t lamp_is_on(enum lamp_look look, uint32_t now_ms)
{
    const uint16_t at_ms = (uint16_t)(now_ms & 2047);

    if (counted) {
        const uint32_t ago_ms = now_ms - count_ms, lasts_ms = counted * 2UL * BLINK_MS;

        if (ago_ms >= PAUSE_MS && ago_ms < PAUSE_MS + lasts_ms)
            return (ago_ms - PAUSE_MS) % (2 * BLINK_MS) < BLINK_MS;
        if (ago_ms < 2 * PAUSE_MS + lasts_ms)
            return 0;
        counted = 0;
    }
    switch (look) {
    case LAMP_ON:
        return 1;
    case LAMP_SLOW:
        return at_ms < 1024;
    case LAMP_FAST:
        return (at_ms & 511) < 256;
    case LAMP_FAULT:
        return at_ms < SHORT_MS || (at_ms >= 400 && at_ms < 400 + SHORT_MS);
    case LAMP_LOW:
        return at_ms < SHORT_MS;
    default:
        return 0;
    }
}
