/* Holds each LED, and the strip as a whole, to one opposing change of light in 250 ms: two flashes in a second at most,
   whatever is wanted. Asked once each 10 ms; no pins, no clock: plain C, tried on a desktop too. */
#ifndef TOCSIN_BOX_APART_H
#define TOCSIN_BOX_APART_H

#include <stdint.h>

#define APART_FRAME_MS 10
#define APART_FRAMES 25          /* 250 ms */

/* Where one light was when it last changed, how red, and how many frames ago: dark at first, as if just gone out. */
typedef struct {
    uint8_t mark, red, state;
} apart_swing;

/* Begin with a dark strip of which nobody knows what it showed a moment ago. */
void apart_begin(apart_swing *swings, uint16_t leds);

/* Move `shown` (RGB a LED) to `wanted`, but for what must wait; `swings` has one entry a LED and one for the whole.
   Return 1 if anything that is shown has changed. */
uint8_t apart_admit(apart_swing *swings, uint8_t *shown, const uint8_t *wanted, uint16_t leds);

/* Turn all dark at once, without waiting: what comes next waits for it. */
void apart_force_dark(apart_swing *swings, uint8_t *shown, uint16_t leds);

#endif
