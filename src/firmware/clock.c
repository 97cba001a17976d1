#include "clock.h"

#include <avr/io.h>
#include <util/atomic.h>

/* Parts of a tick in which milliseconds are counted: fine enough for a millionth. */
#define PARTS 4096UL

static uint16_t last_ticks;
static uint32_t us, ms;
static uint32_t parts;          /* of ticks, since the last whole millisecond */
static uint32_t parts_a_ms = PARTS * CLOCK_TICKS_A_MS;

void clock_begin(void)
{
    TCCR1A = 0;
    TCCR1B = _BV(CS11) | _BV(CS10);         /* 16 MHz / 64 */
}

uint16_t clock_ticks(void)
{
    uint16_t ticks;

    /* The receiving interrupt reads the timer too, and both would share its one byte of memory. */
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
        ticks = TCNT1;
    }
    return ticks;
}

void clock_poll(void)
{
    uint16_t now = clock_ticks();
    uint16_t passed = (uint16_t)(now - last_ticks);

    last_ticks = now;
    us += (uint32_t)passed * CLOCK_US_A_TICK;
    parts += passed * PARTS;
    while (parts >= parts_a_ms) {           /* a division takes 600 cycles */
        parts -= parts_a_ms;
        ms++;
    }
}

uint32_t clock_ms(void)
{
    return ms;
}

uint32_t clock_us(void)
{
    return us;
}

uint32_t clock_us_at(uint16_t ticks)
{
    /* A tick later than the last poll counts forward. */
    uint16_t ago = (uint16_t)(last_ticks - ticks);

    if (ago >= 0x8000U)
        return us + (uint32_t)(uint16_t)(ticks - last_ticks) * CLOCK_US_A_TICK;
    return us - (uint32_t)ago * CLOCK_US_A_TICK;
}

void clock_calibrate(int16_t ppm)
{
    /* 1024 is a thousandth of the parts in a millisecond, and a fast clock has more of them in it. */
    parts_a_ms = (uint32_t)((int32_t)(PARTS * CLOCK_TICKS_A_MS) + (int32_t)ppm * 128 / 125);
}
