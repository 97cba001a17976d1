#include "reset.h"

#include <avr/io.h>
#include <avr/wdt.h>

uint8_t reset_cause __attribute__((section(".noinit")));

void reset_save(void) __attribute__((naked, used, section(".init3")));

/* After a reset by the watchdog it stays on at its shortest time, until this turns it off: datasheet of the ATmega328P,
   "Watchdog System Reset". So it stands before the start-up code that clears the memory. */
void reset_save(void)
{
    reset_cause = MCUSR;
    MCUSR = 0;
    wdt_disable();
}
