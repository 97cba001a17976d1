/* Commands from the laptop: who are you, keep these settings, what does your clock say. */

#ifndef TOCSIN_COMMANDS_H
#define TOCSIN_COMMANDS_H

#include <stdint.h>

#define FIRMWARE_VERSION 1

enum kind { KIND_STRIP = 'S', KIND_BOX = 'B' };

/* Answer the command in frames_payload, for a board of this kind. Return whether it changed the settings. They are then
   in use: the line is open anew at their rate, the clock is put right by them, and leds_frame is given up. */
uint8_t commands_answer(enum kind kind);

#endif
