/* Why the chip started: MCUSR as it was, saved before anything else, and the watchdog off. */

#ifndef TOCSIN_RESET_H
#define TOCSIN_RESET_H

#include <stdint.h>

/* MCUSR of this start: PORF 1, EXTRF 2, BORF 4, WDRF 8. Some boot loaders clear it: then 0. */
extern uint8_t reset_cause;

#endif
