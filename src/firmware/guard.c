#include "guard.h"

#include <string.h>

#include "clock.h"
#include "leds.h"
#include "settings.h"

#if MOST_LEDS > 254
#error "LEDs are counted in a byte here"
#endif

/* Each frame passes twice, and bytes arrive meanwhile. */
#pragma GCC optimize("O2")

/* Changes are counted in eight slots, which hold any second whole: it touches one more than fit into it, and a clock may
   run 5 % fast. */
#define SLOT_MS 150
#define MOST_CHANGES 6
#define MOST_A_SLOT 3U
#define SLOT_BITS 2
#define SPENT ((MOST_A_SLOT << SLOT_BITS) | MOST_A_SLOT)
#define CHANGE 2                        /* of half luminance: 5 of 255 or more always count */
#define MEAN MOST_LEDS                  /* the strip's mean is one more LED */
#define RISEN 0x80                      /* in extreme: the last change was up */

/* What was shown of one LED. */
struct meter {
    uint8_t extreme;                    /* the brightest half luminance since the last change, if that was up, else the darkest */
    uint16_t changes;                   /* how many each of the last slots held, the newest in the lowest bits */
};

static struct meter meters[MOST_LEDS + 1];
static uint8_t reds[MOST_LEDS / 8 + 1]; /* whether a LED is red, a bit each */
static uint32_t slot_ms;

void guard_begin(void)
{
    for (uint8_t led = 0; led <= MEAN; led++) {
        meters[led].changes = SPENT;
        meters[led].extreme = 0;
    }
    memset(reds, 0, sizeof reds);
    slot_ms = clock_ms();
}

uint8_t guard_poll(void)
{
    uint8_t passed = 0;

    while (clock_ms() - slot_ms >= SLOT_MS) {
        slot_ms += SLOT_MS;
        for (uint8_t led = 0; led <= MEAN; led++)
            meters[led].changes = (uint16_t)(meters[led].changes << SLOT_BITS);
        passed = 1;
    }
    return passed;
}

/* Half the relative luminance, 0 to 127: WCAG's weights, but linear, since LEDs are (duty of their current). */
static inline uint8_t half_luminance(const uint8_t *led)
{
    uint16_t light = (uint16_t)(led[0] * 54U + led[1] * 183U + led[2] * 18U);

    return (uint8_t)((uint8_t)(light >> 8) >> 1);
}

/* Saturated red: five ninths of the light or more. In linear light WCAG's limit is 0.8, but by its sRGB reading of the same
   bytes it lies between 0.56 and 0.8. */
static inline uint8_t is_red(const uint8_t *led)
{
    uint16_t others = (uint16_t)(led[1] + led[2]);

    return led[0] > 3 && (uint16_t)(led[0] << 2) >= (uint16_t)(others + (others << 2));
}

static inline uint8_t turns(const struct meter *meter, uint8_t level)
{
    uint8_t was = meter->extreme;

    return was & RISEN ? (uint8_t)(level + CHANGE) <= (was & 0x7F) : level >= (uint8_t)(was + CHANGE);
}

static uint8_t spent(uint16_t held)
{
    uint16_t sum = (held & 0x3333U) + ((held >> 2) & 0x3333U);

    if ((held & MOST_A_SLOT) == MOST_A_SLOT)
        return 1;
    sum = (sum & 0x0F0FU) + ((sum >> 4) & 0x0F0FU);
    return (uint8_t)((sum + (sum >> 8)) & 0x1F) >= MOST_CHANGES;
}

uint8_t guard_allows(void)
{
    const uint8_t *colour = leds_frame, *red = reds;
    const struct meter *meter = meters;
    uint16_t sum = 0;
    uint8_t bit = 1;

    for (uint8_t left = (uint8_t)settings.leds; left; left--, meter++, colour += 3) {
        uint8_t level = half_luminance(colour);

        sum += level;
        if ((turns(meter, level) || is_red(colour) != ((*red & bit) != 0)) && spent(meter->changes))
            return 0;
        bit = (uint8_t)(bit << 1);
        if (!bit) {
            bit = 1;
            red++;
        }
    }
    meter = meters + MEAN;
    return !(turns(meter, (uint8_t)(sum / settings.leds)) && spent(meter->changes));
}

/* Move the last change to now: a fade that goes on is dated by its end, so that the count holds for every second. */
static void extend(struct meter *meter)
{
    uint16_t held = meter->changes, one = 1U << SLOT_BITS;

    if (held & MOST_A_SLOT)
        return;
    if (held) {
        while (!(held & (one * MOST_A_SLOT)))
            one = (uint16_t)(one << SLOT_BITS);
        held -= one;
    }
    meter->changes = held + 1;
}

static inline void take(struct meter *meter, uint8_t level, uint8_t reddens)
{
    uint8_t was = meter->extreme, risen = was & RISEN, turned = turns(meter, level);

    if ((turned || reddens) && (meter->changes & MOST_A_SLOT) < MOST_A_SLOT)
        meter->changes++;
    if (turned) {
        meter->extreme = (uint8_t)(level | (risen ^ RISEN));
    } else if (risen ? level > (was & 0x7F) : level < was) {
        meter->extreme = (uint8_t)(level | risen);
        if (!reddens)
            extend(meter);
    }
}

void guard_take(void)
{
    const uint8_t *colour = leds_frame;
    struct meter *meter = meters;
    uint8_t *red = reds;
    uint16_t sum = 0;
    uint8_t bit = 1;

    for (uint8_t left = (uint8_t)settings.leds; left; left--, meter++, colour += 3) {
        uint8_t level = half_luminance(colour), reddens = is_red(colour) != ((*red & bit) != 0);

        sum += level;
        take(meter, level, reddens);
        if (reddens)
            *red = (uint8_t)(*red ^ bit);
        bit = (uint8_t)(bit << 1);
        if (!bit) {
            bit = 1;
            red++;
        }
    }
    take(meters + MEAN, (uint8_t)(sum / settings.leds), 0);
}
