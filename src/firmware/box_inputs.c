#include "box_inputs.h"

#include <avr/io.h>

void inputs_begin(void)
{
    DDRD &= (uint8_t)~(_BV(PD2) | _BV(PD4) | _BV(PD7));
    PORTD |= _BV(PD2) | _BV(PD4) | _BV(PD7);
    DDRB &= (uint8_t)~_BV(PB1);
    PORTB |= _BV(PB1);
    DDRC &= (uint8_t)~_BV(PC1);
    PORTC |= _BV(PC1);
}

uint8_t input_is_low(uint8_t which)
{
    switch (which) {
    case START:
        return !(PIND & _BV(PD2));
    case RESYNC:
        return !(PIND & _BV(PD4));
    case CALL:
        return !(PIND & _BV(PD7));
    default:
        return !(PINB & _BV(PB1));
    }
}

uint8_t inputs_practice(void)
{
    return !(PINC & _BV(PC1));
}
