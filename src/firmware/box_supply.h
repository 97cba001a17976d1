/* Measures the chip's own supply, since below 4.2 V it is to be dark and still: strip and motor draw the most, and a chip
   of 16 MHz does anything below 3.8 V (data sheet, speed grades). */
#ifndef TOCSIN_BOX_SUPPLY_H
#define TOCSIN_BOX_SUPPLY_H

#include <stdint.h>

#define SUPPLY_REST_MS 5000            /* so long it has to be good again: what it lights may pull it down at once */

void supply_begin(void);

/* Return whether the supply has been low within the last five seconds. To be asked each millisecond or so. */
uint8_t supply_is_low(uint32_t now_ms);

#endif
