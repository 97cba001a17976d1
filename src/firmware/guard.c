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

/* Changes are counted in eight slots, which hold any second whole: it touches one more than fit into it, and a clock
   may run 5 % fast. */
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
    uint8_t extreme;                    /* half luminance since the last change: the brightest if that was up, else the
                                           darkest */
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
    guard_look_anew();
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

/* Saturated red: five ninths of the light or more. In linear light WCAG's limit is 0.8, but by its sRGB reading of the
   same bytes it lies between 0.56 and 0.8. */
static inline uint8_t is_red(const uint8_t *led)
{
    uint16_t others = (uint16_t)(led[1] + led[2]);

    if (led[0] <= led[1])               /* most are not */
        return 0;
    return led[0] > 3 && (uint16_t)(led[0] << 2) >= (uint16_t)(others + (others << 2));
}

/* How far a level carries the last change on; below zero: how far it is back from there. */
static inline int8_t further(const struct meter *meter, uint8_t level)
{
    uint8_t was = meter->extreme;

    return was & RISEN ? (int8_t)(level - (was & 0x7F)) : (int8_t)(was - level);
}

static uint8_t spent(uint16_t held)
{
    uint16_t sum = (held & 0x3333U) + ((held >> 2) & 0x3333U);

    if ((held & MOST_A_SLOT) == MOST_A_SLOT)
        return 1;
    sum = (sum & 0x0F0FU) + ((sum >> 4) & 0x0F0FU);
    return (uint8_t)((sum + (sum >> 8)) & 0x1F) >= MOST_CHANGES;
}

enum verdict { SAME, CHANGED, HELD };

/* Look at one LED; return HELD if it may not change now, else whether there is anything to count. */
static inline enum verdict look(const struct meter *meter, uint8_t level, uint8_t reddens)
{
    int8_t far = further(meter, level);

    if (far <= -CHANGE || reddens)
        return spent(meter->changes) ? HELD : CHANGED;
    return far > 0 ? CHANGED : SAME;
}

/* How far the picture was looked at while it came: there is time then, and there is little once it is whole. */
static struct {
    const uint8_t *colour, *red;
    const struct meter *meter;
    uint16_t sum;
    uint8_t bit;
    enum verdict found;
} looked;

void guard_look_anew(void)
{
    looked.colour = leds_frame;
    looked.meter = meters;
    looked.red = reds;
    looked.bit = 1;
    looked.sum = 0;
    looked.found = SAME;
}

void guard_look(const uint8_t *end)
{
    const uint8_t *colour = looked.colour, *red = looked.red;
    const struct meter *meter = looked.meter;
    uint8_t bit = looked.bit;

    for (; colour + 3 <= end; meter++, colour += 3) {
        uint8_t level = half_luminance(colour);
        enum verdict one = look(meter, level, is_red(colour) != ((*red & bit) != 0));

        looked.sum += level;
        if (one > looked.found)
            looked.found = one;
        bit = (uint8_t)(bit << 1);
        if (!bit) {
            bit = 1;
            red++;
        }
    }
    looked.colour = colour;
    looked.red = red;
    looked.meter = meter;
    looked.bit = bit;
}

/* Look at what is left of the picture, and at its mean. */
static enum verdict verdict(void)
{
    enum verdict one;

    guard_look(leds_frame + 3 * settings.leds);
    one = look(meters + MEAN, (uint8_t)(looked.sum / settings.leds), 0);
    return one > looked.found ? one : looked.found;
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

static inline void count(struct meter *meter, uint8_t level, uint8_t reddens)
{
    uint8_t risen = meter->extreme & RISEN;
    int8_t far = further(meter, level);

    if ((far <= -CHANGE || reddens) && (meter->changes & MOST_A_SLOT) < MOST_A_SLOT)
        meter->changes++;
    if (far <= -CHANGE) {
        meter->extreme = (uint8_t)(level | (risen ^ RISEN));
    } else if (far > 0) {
        meter->extreme = (uint8_t)(level | risen);
        if (!reddens)
            extend(meter);
    }
}

void guard_force(void)
{
    const uint8_t *colour = leds_frame;
    struct meter *meter = meters;
    uint8_t *red = reds;
    uint16_t sum = 0;
    uint8_t bit = 1;

    for (uint8_t left = (uint8_t)settings.leds; left; left--, meter++, colour += 3) {
        uint8_t level = half_luminance(colour), reddens = is_red(colour) != ((*red & bit) != 0);

        sum += level;
        count(meter, level, reddens);
        if (reddens)
            *red = (uint8_t)(*red ^ bit);
        bit = (uint8_t)(bit << 1);
        if (!bit) {
            bit = 1;
            red++;
        }
    }
    count(meters + MEAN, (uint8_t)(sum / settings.leds), 0);
}

uint8_t guard_admit(void)
{
    enum verdict found = verdict();

    if (found == HELD) {                /* as of when it came: time has passed since */
        guard_look_anew();
        found = verdict();
    }
    guard_look_anew();
    if (found == CHANGED)
        guard_force();
    return found != HELD;
}
