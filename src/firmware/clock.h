/* Time, by timer 1: it runs freely at 4 microseconds a tick and is read, never an interrupt.
 *
 * Interrupts are off for a millisecond and more while LEDs are sent: an interrupt each millisecond would lose some.
 * Whoever uses this calls clock_poll at least each 250 ms. All times wrap: compare differences.
 */

#ifndef TOCSIN_CLOCK_H
#define TOCSIN_CLOCK_H

#include <stdint.h>

#define CLOCK_US_A_TICK 4
#define CLOCK_TICKS_A_MS 250

void clock_begin(void);

/* Take account of the time that has passed. */
void clock_poll(void);

/* Ticks of 4 microseconds, now; wraps after 262 ms. */
uint16_t clock_ticks(void);

/* Milliseconds and microseconds since the start, as of the last clock_poll. Microseconds are the chip's own,
   milliseconds are put right by clock_calibrate. */
uint32_t clock_ms(void);
uint32_t clock_us(void);

/* The chip's microseconds at a moment of at most 262 ms ago, given in ticks. */
uint32_t clock_us_at(uint16_t ticks);

/* Say by how many millionths the chip's clock runs fast (slow: negative), -20,000 to 20,000. */
void clock_calibrate(int16_t ppm);

#endif
