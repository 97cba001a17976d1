/* The converter compares its inner reference of 1.1 V (1.0 to 1.2, data sheet: so all limits here are good to 10 %) with
   the supply: 1024 * 1.1 V / supply. */
#include "box_supply.h"

#include <avr/io.h>

#define LOW_MV 4200
#define GOOD_MV 4300
#define READING(mv) ((uint16_t)(1024UL * 1100UL / (mv)))
#define EVERY_MS 20
#define SETTLES 3                      /* readings that do not count while the reference comes up */
#define LOW_READINGS 2                 /* in a row: a motor's first pull is shorter */

static uint32_t asked_ms, low_ms;
static uint8_t unsettled, in_a_row, low;

void supply_begin(void)
{
    ADMUX = _BV(REFS0) | _BV(MUX3) | _BV(MUX2) | _BV(MUX1);
    ADCSRA = _BV(ADEN) | _BV(ADPS2) | _BV(ADPS1) | _BV(ADPS0);
    unsettled = SETTLES;
    in_a_row = low = 0;
    asked_ms = low_ms = 0;
    ADCSRA |= _BV(ADSC);
}

static void take(uint16_t reading, uint32_t now_ms)
{
    if (reading > READING(LOW_MV)) {
        if (in_a_row < LOW_READINGS)
            in_a_row++;
        if (in_a_row == LOW_READINGS)
            low = 1;
    } else {
        in_a_row = 0;
    }
    if (reading > READING(GOOD_MV))
        low_ms = now_ms;
}

uint8_t supply_is_low(uint32_t now_ms)
{
    if (now_ms - asked_ms >= EVERY_MS && !(ADCSRA & _BV(ADSC))) {
        if (unsettled > 0)
            unsettled--;
        else
            take(ADC, now_ms);
        asked_ms = now_ms;
        ADCSRA |= _BV(ADSC);
    }
    if (low && now_ms - low_ms >= SUPPLY_REST_MS)
        low = 0;
    return low;
}
