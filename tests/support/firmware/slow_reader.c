/* Reads the UART only while PB1 is high, and sends status and byte of all that is there. For tests of the runner's
   receiver alone. */

#include <avr/io.h>

static void answer(uint8_t byte)
{
    while (!(UCSR0A & _BV(UDRE0)))
        ;
    UDR0 = byte;
}

int main(void)
{
    UBRR0 = DIVIDER;
    UCSR0A = TWICE ? _BV(U2X0) : 0;
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UCSR0B = _BV(RXEN0) | _BV(TXEN0);
    for (;;) {
        if (PINB & _BV(PB1) && UCSR0A & _BV(RXC0)) {
            uint8_t status = UCSR0A & (_BV(RXC0) | _BV(FE0) | _BV(DOR0)), byte = UDR0;

            answer(status);
            answer(byte);
        }
    }
}
