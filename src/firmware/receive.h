/* The serial line, 8N1: bytes come by interrupt into a ring, or are taken between two LEDs while interrupts are off.
 *
 * Once a byte was lost or torn nothing more is taken until the reader stands at that place and is told so: whatever was
 * in parts then is given up, and what comes behind is not mistaken for its rest.
 */

#ifndef TOCSIN_RECEIVE_H
#define TOCSIN_RECEIVE_H

#include <stdint.h>

#include <avr/io.h>

enum received { RECEIVED_NOTHING, RECEIVED_BYTE, RECEIVED_TORN };

enum baud { BAUD_115200, BAUD_250000, BAUD_500000, BAUDS };

/* Open the line, or open it anew at another rate; what has come so far is forgotten. */
void receive_begin(uint8_t baud);

/* Take the next byte. */
enum received receive_next(uint8_t *byte);

/* Take as many bytes as have come, ``most`` at most; return how many. */
uint8_t receive_some(uint8_t *bytes, uint8_t most);

/* Clock ticks when the newest byte came. */
uint16_t receive_last_ticks(void);

/* Take it that a byte has come just now: the times of those that came between LEDs are not known. */
void receive_touch(void);

/* Send one byte; waits until there is room for it. */
void receive_answer(uint8_t byte);

/* Wait until all that was sent has left. */
void receive_answered(void);

/* -- for receive.c and leds.c ------------------------------------------------------------------------------------- */

extern volatile uint8_t receive_ring[256], receive_head, receive_tail, receive_torn;

/* Take a byte out of the UART, which has one. Inlined by force: called as a function it would make the interrupt save
   all registers, and then bytes are lost at 500,000 baud. */
static inline __attribute__((always_inline)) void receive_take(void)
{
    uint8_t status = UCSR0A;                /* before the byte: reading that takes its flags away */
    uint8_t byte = UDR0;
    uint8_t head = receive_head;

    if (receive_torn)
        return;
    if (status & (_BV(FE0) | _BV(DOR0)) || (uint8_t)(head + 1) == receive_tail) {
        receive_torn = 1;
        return;
    }
    receive_ring[head] = byte;
    receive_head = (uint8_t)(head + 1);
}

#endif
