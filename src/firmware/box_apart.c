/* WCAG 2.2 counts a pair of opposing changes of relative luminance by 0.10 as a flash, and saturated red by itself. An
   LED's light is in proportion to its byte, so 0.10 is 25 of 255. Here any change of 6 counts, and what goes unseen between
   two of them is below 12. A change is dated by the last step of 6 that carried it further, so that the count holds for
   every second, wherever it is cut. */
#include "box_apart.h"

#define STEP 6
#define RED_LEAST 3                    /* below a hundredth of full a light has no hue worth the name */
#define RED_STEP 6
#define UP 0x80
#define AGE 0x7F

static uint8_t level_of(const uint8_t *rgb)
{
    /* Weights of relative luminance in 256ths: 0.2126, 0.7152, 0.0722. */
    return (uint8_t)((54u * rgb[0] + 183u * rgb[1] + 18u * rgb[2]) >> 8);
}

/* Return how red a light is that may be saturated red (red is a share of 0.8), else 0. Wider than that: by an sRGB screen's
   curve 0.56 of red in one other colour is enough, or 0.42 in both. */
static uint8_t red_of(const uint8_t *rgb)
{
    const uint8_t other = rgb[1] > rgb[2] ? rgb[1] : rgb[2];
    const int16_t red = (int16_t)(rgb[0] - rgb[1] - rgb[2]);
    if (rgb[0] < RED_LEAST || 10u * other > 6u * rgb[0])
        return 0;
    return (uint8_t)(red > 0 ? red : 1);
}

static uint8_t turns(const apart_swing *swing, uint8_t level)
{
    if (swing->state & UP)
        return swing->mark >= STEP && level <= swing->mark - STEP;
    return level >= swing->mark + STEP;
}

static uint8_t carries_on(const apart_swing *swing, uint8_t level)
{
    if (swing->state & UP)
        return level >= swing->mark + STEP;
    return swing->mark >= STEP && level <= swing->mark - STEP;
}

static uint8_t waited(const apart_swing *swing)
{
    return (swing->state & AGE) >= APART_FRAMES;
}

static void take(apart_swing *swing, uint8_t level)
{
    const uint8_t turned = turns(swing, level);
    if (!turned && !carries_on(swing, level))
        return;
    swing->state = (uint8_t)((swing->state & UP) ^ (turned ? UP : 0));
    swing->mark = level;
}

static void grow_older(apart_swing *swing)
{
    if ((swing->state & AGE) < APART_FRAMES)
        swing->state++;
}

static uint8_t reddens(const apart_swing *swing, uint8_t red)
{
    if (!swing->red != !red)
        return 1;
    return swing->red > red ? swing->red - red >= RED_STEP : red - swing->red >= RED_STEP;
}

static uint8_t allows(const apart_swing *swing, const uint8_t *rgb)
{
    return waited(swing) || !(turns(swing, level_of(rgb)) || reddens(swing, red_of(rgb)));
}

/* Move one LED's swing to what it shows. Any change of red counts, be it opposing or not. */
static void take_colour(apart_swing *swing, const uint8_t *rgb)
{
    const uint8_t red = red_of(rgb);
    take(swing, level_of(rgb));
    if (reddens(swing, red)) {
        swing->red = red;
        swing->state &= UP;
    }
}

void apart_begin(apart_swing *swings, uint16_t leds)
{
    uint16_t i;
    for (i = 0; i <= leds; i++)
        swings[i].mark = swings[i].red = swings[i].state = 0;
}

/* Return the mean level of what would be shown. */
static uint8_t mean_of(const apart_swing *swings, const uint8_t *shown, const uint8_t *wanted, uint16_t leds)
{
    uint32_t sum = 0;
    uint16_t i;
    for (i = 0; i < leds; i++, shown += 3, wanted += 3)
        sum += level_of(allows(&swings[i], wanted) ? wanted : shown);
    return leds ? (uint8_t)(sum / leds) : 0;
}

uint8_t apart_admit(apart_swing *swings, uint8_t *shown, const uint8_t *wanted, uint16_t leds)
{
    apart_swing *const whole = &swings[leds];
    uint8_t changed = 0, mean;
    uint16_t i;
    for (i = 0; i <= leds; i++)
        grow_older(&swings[i]);
    mean = mean_of(swings, shown, wanted, leds);
    if (turns(whole, mean) && !waited(whole))
        return 0;
    take(whole, mean);
    for (i = 0; i < leds; i++, shown += 3, wanted += 3) {
        if (shown[0] == wanted[0] && shown[1] == wanted[1] && shown[2] == wanted[2])
            continue;
        if (!allows(&swings[i], wanted))
            continue;
        take_colour(&swings[i], wanted);
        shown[0] = wanted[0];
        shown[1] = wanted[1];
        shown[2] = wanted[2];
        changed = 1;
    }
    return changed;
}

void apart_force_dark(apart_swing *swings, uint8_t *shown, uint16_t leds)
{
    uint16_t i;
    for (i = 0; i < leds; i++, shown += 3) {
        shown[0] = shown[1] = shown[2] = 0;
        take_colour(&swings[i], shown);
    }
    take(&swings[leds], 0);
}
