/* The box's motors, buzzer and lamp. All are off from outputs_begin on until somebody asks for them. */
#ifndef TOCSIN_BOX_OUTPUTS_H
#define TOCSIN_BOX_OUTPUTS_H

#include <stdint.h>

void outputs_begin(void);

/* Turn the motors: PD6 strong, PD5 weak, in percent, by PWM of 976 Hz. */
void outputs_motors(uint8_t strong, uint8_t weak);

/* Sound the buzzer at PD3; 0 is silence. From 489 Hz on, lower ones sound as that. */
void outputs_tone(uint16_t hz);

/* Light the lamp at PC0, and the board's own at PB5. */
void outputs_lamp(uint8_t on);

#endif
