/* What outlasts a reset: that a match runs, and up to where its cues were given. RAM keeps it while the supply only dips;
   a sum tells whether it did, and a second copy whether a reset tore the first. */
#ifndef TOCSIN_BOX_MARK_H
#define TOCSIN_BOX_MARK_H

#include <stdint.h>

typedef struct {
    int16_t segment;                   /* -1 before anything was given */
    int32_t given_ms;                  /* all of the segment up to here is decided */
    int16_t called_segment;            /* where the call home was last given by hand, -1 if it was not */
    int32_t called_ms;
    uint8_t lost_told;
} match_mark;

/* Return 1 and the mark if a match was running when the chip was reset, 0 if power came or none was. */
uint8_t mark_read(match_mark *into);

void mark_write(const match_mark *mark);

void mark_clear(void);

#endif
