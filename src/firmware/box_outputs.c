#include "box_outputs.h"

#include <avr/io.h>

#define STRONG PD6
#define WEAK PD5
#define BUZZER PD3
#define LAMP PC0
#define BOARD_LAMP PB5
#define TONE_CLOCK_HZ (F_CPU / 64 / 2) /* a tone has two edges */

void outputs_begin(void)
{
    PORTD &= (uint8_t)~(_BV(STRONG) | _BV(WEAK) | _BV(BUZZER));
    DDRD |= _BV(STRONG) | _BV(WEAK) | _BV(BUZZER);
    PORTC &= (uint8_t)~_BV(LAMP);
    DDRC |= _BV(LAMP);
    PORTB &= (uint8_t)~_BV(BOARD_LAMP);
    DDRB |= _BV(BOARD_LAMP);
    TCCR0A = _BV(WGM01) | _BV(WGM00);                          /* fast PWM, pins not joined yet */
    TCCR0B = _BV(CS01) | _BV(CS00);                            /* 16 MHz / 64 / 256 = 976 Hz */
    TCCR2A = _BV(WGM21);
    TCCR2B = 0;
}

/* Return a duty for OCR: 100 % is all of the 256 counts. */
static uint8_t duty_of(uint8_t percent)
{
    if (percent >= 100)
        return 255;
    return (uint8_t)((percent * 255u + 50u) / 100u);
}

void outputs_motors(uint8_t strong, uint8_t weak)
{
    /* Off by the port: a fast PWM at 0 would still give a spike each round (data sheet, 15.7.3). */
    OCR0A = duty_of(strong);
    OCR0B = duty_of(weak);
    TCCR0A = (uint8_t)(_BV(WGM01) | _BV(WGM00) | (strong ? _BV(COM0A1) : 0) | (weak ? _BV(COM0B1) : 0));
}

void outputs_tone(uint16_t hz)
{
    uint32_t top;
    if (hz == 0) {
        TCCR2A = _BV(WGM21);
        TCCR2B = 0;
        return;
    }
    top = TONE_CLOCK_HZ / hz;
    OCR2A = top > 256 ? 255 : top < 2 ? 1 : (uint8_t)(top - 1);
    OCR2B = 0;
    TCCR2A = _BV(WGM21) | _BV(COM2B0);                         /* the pin turns at each match */
    TCCR2B = _BV(CS22);
}

void outputs_lamp(uint8_t on)
{
    if (on) {
        PORTC |= _BV(LAMP);
        PORTB |= _BV(BOARD_LAMP);
    } else {
        PORTC &= (uint8_t)~_BV(LAMP);
        PORTB &= (uint8_t)~_BV(BOARD_LAMP);
    }
}
