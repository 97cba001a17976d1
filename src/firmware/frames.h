/* What comes on the line: Adalight frames, TPM2 data and TPM2 commands, each taken only whole.
 *
 *   Adalight   'A' 'd' 'a' hi lo hi^lo^0x55, then hi:lo + 1 LEDs of red, green, blue
 *   TPM2       0xC9 type hi lo, hi:lo bytes, 0x36; type 0xDA is a frame, 0xC0 a command; 0xAA is an answer
 *
 * A frame is given up if a byte of it was lost or torn, if the line is silent inside of it for more than 5 ms, or if it
 * does not end as it should: what follows at once must be the begin of something. A frame counts that has the strip's
 * number of LEDs, or the number of the frame before it: so a torn length lights nothing.
 */

#ifndef TOCSIN_FRAMES_H
#define TOCSIN_FRAMES_H

#include <stdint.h>

#define FRAMES_MOST_PAYLOAD 12          /* of a command */

#define TPM2_BEGIN 0xC9
#define TPM2_DATA 0xDA
#define TPM2_COMMAND 0xC0
#define TPM2_ANSWER 0xAA
#define TPM2_TAKEN 0xAC
#define TPM2_END 0x36

enum heard { HEARD_NOTHING, HEARD_ADALIGHT, HEARD_TPM2, HEARD_COMMAND };

/* Take what has come, until there is nothing more or something is whole. A frame then stands in leds_frame, black where
   it had fewer LEDs than the strip; a command in frames_payload. */
enum heard frames_poll(void);

/* Whether leds_frame still holds a whole frame: the next one's first colour ends that, and so does frames_give_up. */
extern uint8_t frames_whole;

/* Counts the frames that have begun; up to where the colours of one that is coming stand in leds_frame. */
extern uint8_t frames_begun;
const uint8_t *frames_end(void);

/* The last command; frames_length may exceed FRAMES_MOST_PAYLOAD, then only its begin is kept. */
extern uint8_t frames_payload[FRAMES_MOST_PAYLOAD];
extern uint16_t frames_length;

/* Give up what is coming, and what leds_frame holds: somebody else writes to it. */
void frames_give_up(void);

/* Milliseconds since the last byte was taken. */
uint32_t frames_silent_ms(void);

#endif
