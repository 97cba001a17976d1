#include "leds.h"

#include <string.h>

#include <avr/interrupt.h>
#include <avr/io.h>

#include "clock.h"
#include "receive.h"
#include "settings.h"

#pragma GCC optimize("O2")              /* bytes arrive while frames are made ready */

#define PORT PORTB
#define DIRECTION DDRB
#define DATA _BV(PB0)
/* LEDs show what they have once the line is low this long: 280 us on newer parts (WS2812B-2020), 50 us on the first. */
#define LATCH_TICKS (300 / CLOCK_US_A_TICK)
#define FULL 255
/* A colour at full draws 20 mA, by common practice; a LED some 1 mA even when dark. */
#define MA_A_COLOUR 20
#define MA_A_LED 1

uint8_t leds_frame[3 * MOST_LEDS];

static uint8_t scale = FULL;           /* dims by scale + 1 of 256 */
static uint16_t sent_ticks;

/* Where red, green, blue stand in a frame, in the order that the strip wants: RGB, RBG, GRB, GBR, BRG, BGR. */
static const uint8_t places[ORDERS][3] = {{0, 1, 2}, {0, 2, 1}, {1, 0, 2}, {1, 2, 0}, {2, 0, 1}, {2, 1, 0}};

/* Send bytes. Interrupts are off meanwhile, so bytes that arrive are taken behind each one that is sent: the UART holds
   two and the begin of a third, and one takes 20 us at 500,000 baud where one to the LEDs takes 12. */
static void send(const uint8_t *bytes, uint16_t length)
{
    uint8_t interrupts, high, low;

    while ((uint16_t)(clock_ticks() - sent_ticks) < LATCH_TICKS)
        ;
    interrupts = SREG;
    cli();
    high = PORT | DATA;
    low = PORT & (uint8_t)~DATA;
    while (length--) {
        uint8_t byte = *bytes++, bits = 8;

        /* The pin rises at 0; falls at 5 for a zero, at 11 for a one; the next bit's rise is at 20. */
        __asm__ volatile(
            "1: out %[port], %[high]\n\t"
            "nop\n\tnop\n\tnop\n\t"
            "sbrs %[byte], 7\n\t"
            "out %[port], %[low]\n\t"
            "lsl %[byte]\n\t"
            "nop\n\tnop\n\tnop\n\tnop\n\t"
            "out %[port], %[low]\n\t"
            "nop\n\tnop\n\tnop\n\tnop\n\tnop\n\t"
            "dec %[bits]\n\t"
            "brne 1b\n\t"
            : [byte] "+r"(byte), [bits] "+r"(bits)
            : [port] "I"(_SFR_IO_ADDR(PORT)), [high] "r"(high), [low] "r"(low));
        if (UCSR0A & _BV(RXC0))
            receive_take();
    }
    SREG = interrupts;
    sent_ticks = clock_ticks();
    receive_touch();
}

static inline uint8_t dimmed(uint8_t value)
{
    return (uint8_t)((uint16_t)(value * scale + value) >> 8);
}

/* Lower the scale if the frame as it is would draw more than the limit. The sum is of fours, rounded up, so that it
   fits. */
static void tighten(void)
{
    uint16_t sum = 0;
    const uint8_t *led = leds_frame;
    uint32_t wanted, allowed;

    for (uint8_t left = (uint8_t)settings.leds; left; left--, led += 3)
        sum = (uint16_t)(sum + ((uint16_t)((uint16_t)(led[0] + led[1]) + led[2] + 3) >> 2));
    wanted = (uint32_t)sum * (4 * MA_A_COLOUR);             /* both in mA, times 255 */
    allowed = (uint32_t)(settings.max_ma - MA_A_LED * settings.leds) * 255;
    if ((wanted >> 8) * (scale + 1U) > allowed) {
        uint32_t most = allowed / (wanted >> 8);

        scale = most ? (uint8_t)(most - 1) : 0;
    }
}

void leds_begin(void)
{
    PORT &= (uint8_t)~DATA;
    DIRECTION |= DATA;
    sent_ticks = clock_ticks();
    leds_black();
}

void leds_show(void)
{
    const uint8_t *place = places[settings.order];
    const uint8_t first = place[0], second = place[1], third = place[2];
    uint8_t *led = leds_frame;

    tighten();
    for (uint8_t left = (uint8_t)settings.leds; left; left--) {
        uint8_t one = dimmed(led[first]), two = dimmed(led[second]), three = dimmed(led[third]);

        *led++ = one;
        *led++ = two;
        *led++ = three;
    }
    send(leds_frame, (uint16_t)(3 * settings.leds));
}

void leds_black(void)
{
    memset(leds_frame, 0, sizeof leds_frame);
    send(leds_frame, sizeof leds_frame);
}
