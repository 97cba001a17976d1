/* LEDs of the WS2812B's kind on pin PB0 (pin 8 of the usual boards), three bytes each.
 *
 * Bits take 20 cycles of 16 MHz: high for 5 (312.5 ns) or 11 (687.5 ns). This keeps all limits of the WS2812B and the
 * SK6812, and all but the low time of a one of later kinds, whose sheets contradict each other.
 */

#ifndef TOCSIN_LEDS_H
#define TOCSIN_LEDS_H

#include <stdint.h>

#ifndef MOST_LEDS
#define MOST_LEDS 200
#endif

/* The next picture: red, green, blue of each LED. leds_show leaves it scaled and in the strip's order. */
extern uint8_t leds_frame[3 * MOST_LEDS];

/* Make the pin an output and low, and send black to as many LEDs as there may be. Needs the clock. */
void leds_begin(void);

/* Dim leds_frame where the current would exceed the limit, and send the strip's LEDs. Within a life the limit only
   tightens: a scale that rose again would let LEDs flare up while others go dark. */
void leds_show(void);

/* Send black to as many LEDs as there may be; clears leds_frame. */
void leds_black(void);

#endif
