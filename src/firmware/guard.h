/* Keeps light from flashing, whatever frames come: at most three flashes in any second, which is WCAG 2.2's limit for
 * general and for red flashes (W3C, success criterion 2.3.1).
 *
 * Counted are opposing changes, two to a flash, of each LED and of the strip's mean. A change is one of luminance by 5
 * of 255 against the one before it, much less than WCAG's tenth, since strips are often dimmed to a tenth; or one into
 * or out of saturated red. Slow fades count like jumps. A frame with one change too many waits until it may be shown.
 * Tocsin itself sends two flashes a second at most, so its frames pass. Nothing is lit in the first second of a life:
 * nobody knows what was shown before.
 *
 * Caution: the limit makes seizures less likely, it does not rule them out. Ask the people around the light.
 */

#ifndef TOCSIN_GUARD_H
#define TOCSIN_GUARD_H

#include <stdint.h>

/* All LEDs are black now, and nobody knows what they showed before. */
void guard_begin(void);

/* Let time pass; call it after clock_poll. Return whether what was held may now be admitted. */
uint8_t guard_poll(void);

/* Another picture is coming into leds_frame. */
void guard_look_anew(void);

/* Its LEDs have come up to here: look at them already. */
void guard_look(const uint8_t *end);

/* Return whether the picture in leds_frame may be shown now, and count it as shown if so: leds_show has to follow. */
uint8_t guard_admit(void);

/* Count the picture in leds_frame as shown without asking. Only for black: turning dark for good does not wait. */
void guard_force(void);

#endif
