#include "receive.h"

#include <avr/interrupt.h>
#include <util/atomic.h>

#include "clock.h"

#pragma GCC optimize("O2")              /* a byte comes each 20 us at most */

volatile uint8_t receive_ring[256], receive_head, receive_tail, receive_torn;
static volatile uint16_t last_ticks;

/* UBRR at double speed and 16 MHz, ATmega328P datasheet, "Examples of Baud Rate Setting": +2.1 %, 0.0 %, 0.0 %. */
static const uint8_t divider[BAUDS] = {16, 7, 3};

ISR(USART_RX_vect)
{
    receive_take();
    last_ticks = TCNT1;
}

void receive_begin(uint8_t baud)
{
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
        UCSR0B = 0;
        UBRR0 = divider[baud];
        UCSR0A = _BV(U2X0);
        UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
        receive_head = receive_tail = receive_torn = 0;
        last_ticks = TCNT1;
        UCSR0B = _BV(RXCIE0) | _BV(RXEN0) | _BV(TXEN0);
    }
}

enum received receive_next(uint8_t *byte)
{
    uint8_t torn = receive_torn;            /* before the ring: once it is set nothing is added */

    if (receive_tail != receive_head) {
        *byte = receive_ring[receive_tail];
        receive_tail++;
        return RECEIVED_BYTE;
    }
    if (!torn)
        return RECEIVED_NOTHING;
    receive_torn = 0;
    return RECEIVED_TORN;
}

uint8_t receive_some(uint8_t *bytes, uint8_t most)
{
    uint8_t tail = receive_tail, there = (uint8_t)(receive_head - tail);

    if (there < most)
        most = there;
    for (uint8_t left = most; left; left--)
        *bytes++ = receive_ring[tail++];
    receive_tail = tail;
    return most;
}

uint16_t receive_last_ticks(void)
{
    uint16_t ticks;

    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
        ticks = last_ticks;
    }
    return ticks;
}

void receive_touch(void)
{
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
        last_ticks = TCNT1;
    }
}

void receive_answer(uint8_t byte)
{
    while (!(UCSR0A & _BV(UDRE0)))
        ;
    UCSR0A = _BV(U2X0) | _BV(TXC0);         /* written as one it is cleared */
    UDR0 = byte;
}

void receive_answered(void)
{
    while (!(UCSR0A & _BV(TXC0)))
        ;
}
