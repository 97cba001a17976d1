/* The plan of a box: rows in its flash that `tocsin export --to box` wrote, and the code that says from them what is due,
   how strongly motors turn, what the strip shows and which tone sounds.

   Made by `python -m tests.support.firmware_plan` from the templates of the C export, whose code this is: change those.
   `tocsin_block_found` says whether there is a plan at all; nothing else may be called before it has said so. */
#ifndef TOCSIN_PLAN_INCLUDED
#define TOCSIN_PLAN_INCLUDED

#include <stdint.h>

/* ---- What is the same for all plans ------------------------------------------------------------------------------ */

/* How a firing came about: on time; what was left of one that was missed; by hand. */
enum { TOCSIN_PLAYED = 0, TOCSIN_RESUMED = 1, TOCSIN_CALLED = 2 };

/* What the last call had to say (the field `status`). */
enum {
    TOCSIN_OK = 0,
    TOCSIN_WRONG_PERIOD = 1,    /* no such period */
    TOCSIN_EARLIER_PERIOD = 2,  /* a later period was polled already: restart() for a new match */
    TOCSIN_CLOCK_LOST = 3,      /* when this period began is not known: official() sets the clock */
    TOCSIN_WRONG_READING = 4,   /* the display cannot show that in this period */
    TOCSIN_NOT_CALLABLE = 5,    /* no such cue, or none that may be given by hand */
    TOCSIN_OTHER_VARIANT = 6,   /* the cue belongs to a variant that is not played */
    TOCSIN_WRONG_VARIANT = 7,   /* no such variant */
    TOCSIN_PRESSED_TWICE = 8,   /* called less than a second ago */
    TOCSIN_FELL_BACK = 9        /* the ms lie far behind earlier ones: nothing comes twice; restart() for a new match */
};

/* On an AVR chip the tables stay in flash, of which it has more than of memory, and are read by pgmspace.h, in C too:
   GNU C's own way, __flash, went wrong with -O2 (avr-gcc 5.4, step ivopts). Elsewhere they are plain constants. */
#ifdef __AVR__
#include <avr/pgmspace.h>
#define TOCSIN_STORED PROGMEM
#define TOCSIN_U8(entry) pgm_read_byte(&(entry))
#define TOCSIN_I16(entry) ((int16_t)pgm_read_word(&(entry)))
#define TOCSIN_I32(entry) ((int32_t)pgm_read_dword(&(entry)))
#define TOCSIN_TEXT(entry) ((const char *)pgm_read_word(&(entry)))
#else
#define TOCSIN_STORED
#define TOCSIN_U8(entry) (entry)
#define TOCSIN_I16(entry) (entry)
#define TOCSIN_I32(entry) (entry)
#define TOCSIN_TEXT(entry) (entry)
#endif

#define TOCSIN_MOST_MS INT32_C(500000000)      /* larger milliseconds are taken as these, so that no sum overflows */
#define TOCSIN_FOREVER INT32_C(2147483647)     /* an end that this program never learns */
enum {
    TOCSIN_ANY = -1,               /* comes in each variant */
    TOCSIN_LATE_PRESS_MS = 250,    /* a person presses that late */
    TOCSIN_BUSY_BEFORE_MS = 300,
    TOCSIN_BUSY_AFTER_MS = 150,
    TOCSIN_TWICE_MS = 1000,
    TOCSIN_HOLD_MS = 5000,         /* milliseconds of a period that fall back further are no hold */
    TOCSIN_PATIENCE_POLLS = 50,    /* a pattern that no level() asked for meanwhile is dropped */
    TOCSIN_DONE = 1,               /* flags of a row: decided; given; given by hand before its time; of light: has shown */
    TOCSIN_GIVEN = 2,
    TOCSIN_BY_HAND = 4,
    TOCSIN_OVER = 8
};

/* What rows are for, each in its order. */
enum { TOCSIN_RUMBLE = 0, TOCSIN_LIGHT = 1, TOCSIN_TONE = 2, TOCSIN_CHANNELS = 3 };

/* What stands in place of a role in rows that are for none: the strip, and the slot of the loudspeaker. */
#define TOCSIN_STRIP (-1)
#define TOCSIN_SPEAKER TOCSIN_ROLES

/* A period: its segment (a run of periods that follow by themselves), its begin there, the first row of each channel due
   in it; where there the official display shows zero (-1: it tells nothing), the positions that it can tell, and its end
   (-1: open). Positions are milliseconds since the begin of the segment. */
typedef struct {
    int32_t begin_ms, zero_ms, low_ms, high_ms, end_ms;
    int16_t segment, first[3];
} tocsin_period_row;

/* A row is given at the first poll in [due, last] of its segment; with an `until`, what is left of it up to there. Those
   of calls, and that the clock is lost, stand at the end of their channel and have no moment; a call's light holds in
   `last` the segment of its `until`. */
typedef struct {
    int32_t due_ms, last_ms, until_ms;
    int16_t cue, n, role, priority, when, pattern;
} tocsin_firing_row;

/* What a strip shows: a form of one or two colours (red, green, blue, 0 to 255); its cycle, how long it shows without an
   `until`, and the width of a block in ten-thousandths of the strip. */
typedef struct {
    int32_t cycle_ms, lasts_ms;
    int16_t width;
    uint8_t form, first[3], second[3], spare[3];
} tocsin_light_row;

/* Forms: one colour; swelling and fading; on and off; a block that runs there and back; blocks that follow each other;
   lit around the middle, less and less; standing blocks; both ends. */
enum {
    TOCSIN_PLAIN, TOCSIN_SWELL, TOCSIN_ON_OFF, TOCSIN_SHUTTLE, TOCSIN_QUEUE, TOCSIN_EBB, TOCSIN_BANDS, TOCSIN_APART
};

/* 16384 (0.6 + 0.4 cos) over half a cycle. */
static const int16_t tocsin_swell[34] TOCSIN_STORED = {
    16384, 16352, 16258, 16102, 15885, 15610, 15280, 14896, 14464, 13988, 13471, 12920,
    12338, 11733, 11109, 10473, 9830, 9188, 8552, 7928, 7322, 6741, 6189, 5673,
    5196, 4764, 4381, 4051, 3776, 3559, 3403, 3308, 3277, 3277
};

/* ---- The block in flash ------------------------------------------------------------------------------------------- */

enum {
    TOCSIN_LAYOUT = 1,
    TOCSIN_BLOCK_ROOM = 10240,
    TOCSIN_DEFAULT_VARIANT = -1,
    /* Room in memory: a plan that needs more is refused as it is exported. */
    TOCSIN_ROOM_FIRINGS = 64,
    TOCSIN_ROOM_ROWS = 220,
    TOCSIN_ROOM_ROLES = 5,
    TOCSIN_ROOM_CUES = 18
};

/* Little endian, 64 bytes; the tables follow, and a CRC-16 over all before it. `home` is the cue of the button that calls
   by hand, `role_of` the number of driver, operator, coach, scribe and feeder: -1 for none. */
typedef struct {
    char magic[4];
    uint8_t layout, order;
    uint16_t length, leds, max_ma;
    uint8_t brightness, floor_s;
    int16_t periods, roles, cues, variants, usual_variant, firings, first_lost, first_tone, rows, segments, main_period;
    int16_t home;
    int8_t role_of[5];
    uint8_t spare[3];
    uint16_t periods_at, segments_at, firings_at, cues_at, step_from_at, steps_at, lights_at, tone_from_at;
    uint16_t tone_steps_at;
} tocsin_header;

#ifndef TOCSIN_BLOCK
#define TOCSIN_BLOCK ((const uint8_t *)0x5000)
#endif
#define TOCSIN_HEADER ((const tocsin_header *)TOCSIN_BLOCK)
#define TOCSIN_PERIODS TOCSIN_I16(TOCSIN_HEADER->periods)
#define TOCSIN_ROLES TOCSIN_I16(TOCSIN_HEADER->roles)
#define TOCSIN_CUES TOCSIN_I16(TOCSIN_HEADER->cues)
#define TOCSIN_VARIANTS TOCSIN_I16(TOCSIN_HEADER->variants)
#define TOCSIN_USUAL_VARIANT TOCSIN_I16(TOCSIN_HEADER->usual_variant)
#define TOCSIN_FIRINGS TOCSIN_I16(TOCSIN_HEADER->firings)
#define TOCSIN_FIRST_LOST TOCSIN_I16(TOCSIN_HEADER->first_lost)
#define TOCSIN_FIRST_TONE TOCSIN_I16(TOCSIN_HEADER->first_tone)
#define TOCSIN_ROWS TOCSIN_I16(TOCSIN_HEADER->rows)
#define TOCSIN_SEGMENTS TOCSIN_I16(TOCSIN_HEADER->segments)
#define TOCSIN_MAIN_PERIOD TOCSIN_I16(TOCSIN_HEADER->main_period)
#define TOCSIN_HOME TOCSIN_I16(TOCSIN_HEADER->home)
#define TOCSIN_FLOOR_S TOCSIN_U8(TOCSIN_HEADER->floor_s)
#define tocsin_do_table(type, at) ((const type *)(TOCSIN_BLOCK + (uint16_t)TOCSIN_I16(TOCSIN_HEADER->at)))
#define tocsin_periods tocsin_do_table(tocsin_period_row, periods_at)
#define tocsin_segments ((const int16_t (*)[6])tocsin_do_table(uint8_t, segments_at))
#define tocsin_firings tocsin_do_table(tocsin_firing_row, firings_at)
#define tocsin_cues ((const int16_t (*)[5])tocsin_do_table(uint8_t, cues_at))
#define tocsin_step_from tocsin_do_table(int32_t, step_from_at)
#define tocsin_steps ((const int32_t (*)[3])tocsin_do_table(uint8_t, steps_at))
#define tocsin_lights tocsin_do_table(tocsin_light_row, lights_at)
#define tocsin_tone_from tocsin_do_table(int32_t, tone_from_at)
#define tocsin_tone_steps ((const int32_t (*)[4])tocsin_do_table(uint8_t, tone_steps_at))

/* The CRC of avr-libc's _crc_ccitt_update, as its documentation writes it in C. */
static inline uint16_t tocsin_do_crc(uint16_t crc, uint8_t byte)
{
    byte = (uint8_t)(byte ^ (crc & 0xFF));
    byte = (uint8_t)(byte ^ (byte << 4));
    return (uint16_t)((((uint16_t)byte << 8) | (crc >> 8)) ^ (uint8_t)(byte >> 4) ^ ((uint16_t)byte << 3));
}

/* Return 1 if a whole plan stands in flash that this program can play. */
static inline int tocsin_block_found(void)
{
    static const char magic[4] TOCSIN_STORED = {'T', 'C', 'S', 'N'};
    const uint16_t length = (uint16_t)TOCSIN_I16(TOCSIN_HEADER->length);
    uint16_t crc = 0xFFFF, at;
    for (at = 0; at < 4; at++)
        if ((char)TOCSIN_U8(TOCSIN_HEADER->magic[at]) != (char)TOCSIN_U8(magic[at]))
            return 0;
    if (TOCSIN_U8(TOCSIN_HEADER->layout) != TOCSIN_LAYOUT || length < sizeof(tocsin_header) + 2
        || length > TOCSIN_BLOCK_ROOM)
        return 0;
    for (at = 0; at < length - 2; at++)
        crc = tocsin_do_crc(crc, TOCSIN_U8(TOCSIN_BLOCK[at]));
    if (TOCSIN_U8(TOCSIN_BLOCK[at]) != (crc & 0xFF) || TOCSIN_U8(TOCSIN_BLOCK[at + 1]) != crc >> 8)
        return 0;
    return TOCSIN_FIRINGS <= TOCSIN_ROOM_FIRINGS && TOCSIN_ROWS <= TOCSIN_ROOM_ROWS
        && TOCSIN_ROLES <= TOCSIN_ROOM_ROLES && TOCSIN_CUES <= TOCSIN_ROOM_CUES;
}

/* ---- One match in progress --------------------------------------------------------------------------------------- */

typedef struct {
    /* To be read: what the last tocsin_poll or tocsin_call gave (`count` firings: their numbers and outcomes), what it
       had to say, what the last tocsin_level found, in percent, and the last tocsin_tone. */
    int count;
    int16_t fired[TOCSIN_ROOM_FIRINGS];
    uint8_t outcome[TOCSIN_ROOM_FIRINGS];
    int status;
    int strong, weak;
    int loudness;

    /* Its own. */
    uint8_t flags[TOCSIN_ROOM_ROWS];
    int variant;
    int period;                 /* the newest one polled while the clock was known, -1 for none */
    int32_t furthest_ms;        /* the most ms that were polled in that period */
    int16_t cursor[TOCSIN_CHANNELS];    /* rows of the segment before it are decided */
    int16_t first[TOCSIN_CHANNELS];     /* the first row that is not left out by a late start of this program */
    int32_t position_ms;        /* in the segment, at the newest poll with a known clock */
    uint8_t known;              /* the newest poll had a known clock */
    uint8_t lost, lost_told;
    int corrected;              /* the period whose ms are corrected, -1 for none */
    int32_t correction_ms;
    int heard;                  /* period, position and ms of the newest poll, whether the clock was known or not */
    int32_t heard_ms, log_ms;
    int log_period;
    int32_t busy_from_ms[TOCSIN_ROOM_ROLES], busy_until_ms[TOCSIN_ROOM_ROLES];
    /* A slot is a role's pad; the last one is the loudspeaker. */
    int16_t next[TOCSIN_ROOM_ROLES + 1];       /* the firing whose pattern begins with the next level() */
    uint8_t waited[TOCSIN_ROOM_ROLES + 1];
    int16_t playing[TOCSIN_ROOM_ROLES + 1];
    int16_t step[TOCSIN_ROOM_ROLES + 1];
    uint32_t began_ms[TOCSIN_ROOM_ROLES + 1];
    uint8_t pressed[TOCSIN_ROOM_CUES];
    uint32_t pressed_ms[TOCSIN_ROOM_CUES];

    /* The light of the newest call: its row (-1: none), when and where it was called, where it ends (-1: by itself). */
    int called;
    uint32_t called_ms;
    int16_t called_segment;
    int32_t called_from_ms, called_until_ms;
    /* What the last tocsin_light found, for tocsin_led. */
    int leds;
    int16_t from, to, every;
    uint8_t colours[2][3];

    /* One clock for all periods: the segment that runs (-1: none), and when it began. */
    int segment;
    uint32_t segment_began_ms;
} tocsin_plan;

/* Begin a new match, or a replay, and forget all of the one before. Call it once before anything else, too.
   `variant` may be TOCSIN_DEFAULT_VARIANT. */
static inline void tocsin_restart(tocsin_plan *plan, int variant)
{
    int i;
    plan->count = plan->strong = plan->weak = plan->loudness = 0;
    plan->known = plan->lost = plan->lost_told = 0;
    plan->furthest_ms = plan->position_ms = plan->correction_ms = plan->heard_ms = 0;
    plan->period = plan->corrected = plan->heard = plan->log_period = -1;
    plan->log_ms = -1;
    plan->called = plan->segment = -1;
    plan->called_segment = 0;
    plan->called_from_ms = plan->called_until_ms = 0;
    plan->called_ms = plan->segment_began_ms = 0;
    plan->leds = 0;
    plan->from = plan->to = plan->every = 0;
    plan->status = TOCSIN_OK;
    plan->variant = TOCSIN_USUAL_VARIANT;
    if (variant >= 0 && variant < TOCSIN_VARIANTS)
        plan->variant = variant;
    else if (variant != TOCSIN_DEFAULT_VARIANT)
        plan->status = TOCSIN_WRONG_VARIANT;
    for (i = 0; i < TOCSIN_CHANNELS; i++)
        plan->cursor[i] = plan->first[i] = 0;
    for (i = 0; i < 3; i++)
        plan->colours[0][i] = plan->colours[1][i] = 0;
    for (i = 0; i < TOCSIN_ROWS; i++)
        plan->flags[i] = 0;
    for (i = 0; i < TOCSIN_FIRINGS; i++) {
        plan->outcome[i] = 0;
        plan->fired[i] = -1;
    }
    for (i = 0; i < TOCSIN_ROLES; i++)
        plan->busy_from_ms[i] = plan->busy_until_ms[i] = 0;
    for (i = 0; i <= TOCSIN_ROLES; i++) {
        plan->next[i] = plan->playing[i] = -1;
        plan->waited[i] = 0;
        plan->step[i] = 0;
        plan->began_ms[i] = 0;
    }
    for (i = 0; i < TOCSIN_CUES; i++) {
        plan->pressed[i] = 0;
        plan->pressed_ms[i] = 0;
    }
}

/* Return how long the pattern of a firing of rumble or tones takes, in milliseconds. */
static inline int32_t tocsin_do_lasts(int firing)
{
    const int pattern = TOCSIN_I16(tocsin_firings[firing].pattern);
    if (firing >= TOCSIN_FIRST_TONE)
        return TOCSIN_I32(tocsin_tone_steps[TOCSIN_I32(tocsin_tone_from[pattern + 1]) - 1][3]);
    return TOCSIN_I32(tocsin_steps[TOCSIN_I32(tocsin_step_from[pattern + 1]) - 1][2]);
}

/* Return the segment of a period. */
static inline int tocsin_do_segment(int period)
{
    return TOCSIN_I16(tocsin_periods[period].segment);
}

/* Let a firing's pattern begin on a slot with the next level() or tone(), unless a higher one waits there. */
static inline void tocsin_do_wait(tocsin_plan *plan, int slot, int firing)
{
    const int next = plan->next[slot];
    if (next < 0 || TOCSIN_I16(tocsin_firings[firing].priority) >= TOCSIN_I16(tocsin_firings[next].priority)) {
        plan->next[slot] = (int16_t)firing;
        plan->waited[slot] = 0;
    }
}

/* Give a firing: note it, and let its pattern begin with the next level(). */
static inline void tocsin_do_give(tocsin_plan *plan, int firing, int outcome)
{
    const int role = TOCSIN_I16(tocsin_firings[firing].role);
    const int32_t from_ms = plan->heard_ms - TOCSIN_BUSY_BEFORE_MS;
    const int32_t until_ms = plan->heard_ms + tocsin_do_lasts(firing) + TOCSIN_BUSY_AFTER_MS;
    plan->fired[plan->count] = (int16_t)firing;
    plan->outcome[plan->count] = (uint8_t)outcome;
    plan->count++;
    tocsin_do_wait(plan, role, firing);
    if (plan->heard < 0)
        return;
    if (plan->heard_ms < plan->busy_from_ms[role] || from_ms > plan->busy_until_ms[role]) {
        plan->busy_from_ms[role] = from_ms;
        plan->busy_until_ms[role] = until_ms;
    } else if (until_ms > plan->busy_until_ms[role]) {
        plan->busy_until_ms[role] = until_ms;
    }
}

/* Return whether a row belongs to the variant that is played. */
static inline int tocsin_do_played(const tocsin_plan *plan, int row)
{
    const int when = TOCSIN_I16(tocsin_firings[row].when);
    return when == TOCSIN_ANY || when == plan->variant;
}

/* Decide about a row of a channel whose time has come, at the latest known position. */
static inline void tocsin_do_decide(tocsin_plan *plan, int channel, int row)
{
    const uint8_t flags = plan->flags[row];
    int on_time;
    if (!tocsin_do_played(plan, row))
        return;
    plan->flags[row] = (uint8_t)(flags | TOCSIN_DONE);
    if (flags & (TOCSIN_BY_HAND | TOCSIN_GIVEN))
        return;
    on_time = !(flags & TOCSIN_DONE) && row >= plan->first[channel]
        && plan->position_ms <= TOCSIN_I32(tocsin_firings[row].last_ms);
    if (!on_time && plan->position_ms >= TOCSIN_I32(tocsin_firings[row].until_ms))
        return;
    plan->flags[row] = (uint8_t)(flags | TOCSIN_DONE | TOCSIN_GIVEN);
    if (channel == TOCSIN_RUMBLE)
        tocsin_do_give(plan, row, on_time ? TOCSIN_PLAYED : TOCSIN_RESUMED);
    else if (channel == TOCSIN_TONE)
        tocsin_do_wait(plan, TOCSIN_SPEAKER, row);
}

/* Return the position in the segment at `ms` of a period. */
static inline int32_t tocsin_do_position(const tocsin_plan *plan, int period, int32_t ms)
{
    int32_t since_ms = ms > TOCSIN_MOST_MS ? TOCSIN_MOST_MS : ms;
    if (period == plan->corrected)
        since_ms += plan->correction_ms;
    return TOCSIN_I32(tocsin_periods[period].begin_ms) + (since_ms > 0 ? since_ms : 0);
}

/* Note where a poll lies. */
static inline void tocsin_do_hear(tocsin_plan *plan, int period, int32_t ms)
{
    int i;
    if (plan->heard < 0 || tocsin_do_segment(plan->heard) != tocsin_do_segment(period))
        for (i = 0; i < TOCSIN_ROLES; i++)
            plan->busy_from_ms[i] = plan->busy_until_ms[i] = 0;
    plan->heard = plan->log_period = period;
    plan->heard_ms = tocsin_do_position(plan, period, ms);
    plan->log_ms = plan->heard_ms - TOCSIN_I32(tocsin_periods[period].begin_ms);
}

/* Say once, on each role's pad, that the clock is lost. */
static inline int tocsin_do_tell_lost(tocsin_plan *plan)
{
    int i;
    plan->status = TOCSIN_CLOCK_LOST;
    plan->known = 0;
    if (!plan->lost_told)
        for (i = TOCSIN_FIRST_LOST; i < TOCSIN_FIRINGS; i++)
            tocsin_do_give(plan, i, TOCSIN_PLAYED);
    plan->lost_told = 1;
    return plan->count;
}

/* Drop the patterns that level() or tone() has not asked for in a long while: they would come late. */
static inline void tocsin_do_age(tocsin_plan *plan)
{
    int i;
    for (i = 0; i <= TOCSIN_ROLES; i++)
        if (plan->next[i] >= 0 && ++plan->waited[i] > TOCSIN_PATIENCE_POLLS)
            plan->next[i] = -1;
}

/* Look at all rows of the segment anew with the next poll. */
static inline void tocsin_do_look_again(tocsin_plan *plan)
{
    int i;
    if (plan->period >= 0)
        for (i = 0; i < TOCSIN_CHANNELS; i++)
            plan->cursor[i] = TOCSIN_I16(tocsin_segments[tocsin_do_segment(plan->period)][2 * i]);
}

/* ---- What your program calls ------------------------------------------------------------------------------------- */

/* Tell the period that is on, and how many milliseconds ago it began (below 0: not known). Return how many firings
   are newly due: plan->fired[0] and on. Call it each time round your loop. */
static inline int tocsin_poll(tocsin_plan *plan, int period, int32_t ms)
{
    int i, end;
    plan->count = 0;
    plan->status = TOCSIN_OK;
    tocsin_do_age(plan);
    if (period < 0 || period >= TOCSIN_PERIODS || period < plan->period) {
        plan->status = period >= 0 && period < TOCSIN_PERIODS ? TOCSIN_EARLIER_PERIOD : TOCSIN_WRONG_PERIOD;
        return 0;
    }
    if (ms < 0) {
        plan->log_period = period;
        plan->log_ms = ms;
        return tocsin_do_tell_lost(plan);
    }
    tocsin_do_hear(plan, period, ms);
    if (plan->lost)
        return tocsin_do_tell_lost(plan);
    if (period != plan->period) {
        if (plan->period < 0)
            for (i = 0; i < TOCSIN_CHANNELS; i++)
                plan->first[i] = TOCSIN_I16(tocsin_periods[period].first[i]);
        plan->period = period;
        plan->furthest_ms = 0;
        tocsin_do_look_again(plan);
    }
    if (ms > plan->furthest_ms)
        plan->furthest_ms = ms;
    else if (plan->furthest_ms - ms > TOCSIN_HOLD_MS)
        plan->status = TOCSIN_FELL_BACK;
    plan->position_ms = plan->heard_ms;
    plan->known = 1;
    for (i = 0; i < TOCSIN_CHANNELS; i++) {
        end = TOCSIN_I16(tocsin_segments[tocsin_do_segment(period)][2 * i + 1]);
        while (plan->cursor[i] < end && TOCSIN_I32(tocsin_firings[plan->cursor[i]].due_ms) <= plan->position_ms)
            tocsin_do_decide(plan, i, plan->cursor[i]++);
    }
    return plan->count;
}

/* Count the next scheduled occurrence of a cue, ahead of the latest known position, as given. */
static inline void tocsin_do_give_next(tocsin_plan *plan, int cue)
{
    const int segment = tocsin_do_segment(plan->period);
    int channel, i, n = -1;
    for (channel = 0; channel < TOCSIN_CHANNELS; channel++) {
        const int end = TOCSIN_I16(tocsin_segments[segment][2 * channel + 1]);
        const int calls = TOCSIN_I16(tocsin_segments[TOCSIN_SEGMENTS - 1][2 * channel + 1]);
        for (i = TOCSIN_I16(tocsin_segments[segment][2 * channel]); i < calls; i++) {
            if (TOCSIN_I16(tocsin_firings[i].cue) != cue)
                continue;
            if (i < end && TOCSIN_I32(tocsin_firings[i].due_ms) < plan->position_ms)
                continue;
            if (n < 0)
                n = TOCSIN_I16(tocsin_firings[i].n);
            if (TOCSIN_I16(tocsin_firings[i].n) == n)
                plan->flags[i] = (uint8_t)(plan->flags[i] | TOCSIN_BY_HAND);
        }
    }
}

/* Return whether the light of the newest call shows. */
static inline int tocsin_do_called(const tocsin_plan *plan, int32_t now_ms)
{
    const uint32_t ago_ms = (uint32_t)now_ms - plan->called_ms;
    if (plan->called < 0)
        return 0;
    if (plan->called_until_ms < 0 || !plan->known)
        return ago_ms < (uint32_t)TOCSIN_I32(tocsin_lights[TOCSIN_I16(tocsin_firings[plan->called].pattern)].lasts_ms);
    return tocsin_do_segment(plan->heard) == plan->called_segment && plan->position_ms < plan->called_until_ms;
}

/* Begin the light of a call, unless one with a higher priority still shows. */
static inline void tocsin_do_call_light(tocsin_plan *plan, int row, int32_t now_ms)
{
    const int32_t until_ms = TOCSIN_I32(tocsin_firings[row].until_ms);
    const int segment = plan->known ? tocsin_do_segment(plan->heard) : -1;
    if (tocsin_do_called(plan, now_ms)
        && TOCSIN_I16(tocsin_firings[plan->called].priority) > TOCSIN_I16(tocsin_firings[row].priority))
        return;
    plan->called = row;
    plan->called_ms = (uint32_t)now_ms;
    plan->called_segment = (int16_t)segment;
    plan->called_from_ms = plan->position_ms;
    plan->called_until_ms = -1;
    /* A row of a call holds the segment of its end in `last`. */
    if (until_ms > 0 && segment == TOCSIN_I32(tocsin_firings[row].last_ms) && plan->position_ms < until_ms)
        plan->called_until_ms = until_ms;
}

/* Give a cue by hand, now. The next scheduled occurrence of it then counts as given. `now_ms` is any clock of
   milliseconds that runs on, the one that tocsin_level gets. Return how many firings that gives, as tocsin_poll does. */
static inline int tocsin_call(tocsin_plan *plan, int cue, int32_t now_ms)
{
    int i, calls, light, tone;
    uint32_t ago_ms;
    plan->count = 0;
    plan->status = TOCSIN_OK;
    if (cue < 0 || cue >= TOCSIN_CUES) {
        plan->status = TOCSIN_NOT_CALLABLE;
        return 0;
    }
    calls = TOCSIN_I16(tocsin_cues[cue][2]);
    light = TOCSIN_I16(tocsin_cues[cue][3]);
    tone = TOCSIN_I16(tocsin_cues[cue][4]);
    if (calls <= 0 && light < 0 && tone < 0) {
        plan->status = TOCSIN_NOT_CALLABLE;
        return 0;
    }
    if (TOCSIN_I16(tocsin_cues[cue][0]) != TOCSIN_ANY && TOCSIN_I16(tocsin_cues[cue][0]) != plan->variant) {
        plan->status = TOCSIN_OTHER_VARIANT;
        return 0;
    }
    ago_ms = (uint32_t)now_ms - plan->pressed_ms[cue];
    plan->pressed_ms[cue] = (uint32_t)now_ms;
    if (plan->pressed[cue] && ago_ms < TOCSIN_TWICE_MS) {
        plan->status = TOCSIN_PRESSED_TWICE;
        return 0;
    }
    plan->pressed[cue] = 1;
    for (i = 0; i < calls; i++)
        tocsin_do_give(plan, TOCSIN_I16(tocsin_cues[cue][1]) + i, TOCSIN_CALLED);
    if (light >= 0)
        tocsin_do_call_light(plan, light, now_ms);
    if (tone >= 0)
        tocsin_do_wait(plan, TOCSIN_SPEAKER, tone);
    if (plan->period >= 0) {
        tocsin_do_give_next(plan, cue);
        tocsin_do_look_again(plan);
    }
    return plan->count;
}

/* Take the variant that is played. Return 1, or 0 if there is none of that number. */
static inline int tocsin_choose(tocsin_plan *plan, int variant)
{
    if (variant < 0 || variant >= TOCSIN_VARIANTS) {
        plan->status = TOCSIN_WRONG_VARIANT;
        return 0;
    }
    plan->status = TOCSIN_OK;
    plan->variant = variant;
    tocsin_do_look_again(plan);
    return 1;
}

/* Say that it is not known when the period began: from now on nothing scheduled is given, until tocsin_official. */
static inline void tocsin_clock_lost(tocsin_plan *plan)
{
    plan->status = TOCSIN_OK;
    plan->lost = 1;
    plan->known = 0;
    plan->furthest_ms = 0;                                     /* what comes now may count from elsewhere */
    plan->corrected = -1;
}

/* Return the position at which the official display changes to a reading in a period, or -1 if it never does. */
static inline int32_t tocsin_do_shown(int period, int32_t shown_s)
{
    const int32_t zero_ms = TOCSIN_I32(tocsin_periods[period].zero_ms);
    int32_t at_ms;
    if (shown_s < 0 || shown_s > TOCSIN_MOST_MS / 1000 || zero_ms < 0)
        return -1;
    at_ms = zero_ms - (shown_s + TOCSIN_FLOOR_S) * INT32_C(1000);
    if (at_ms < TOCSIN_I32(tocsin_periods[period].low_ms) || at_ms > TOCSIN_I32(tocsin_periods[period].high_ms))
        return -1;
    return at_ms;
}

/* Set the clock by the official display: call it when the display has just changed to `shown_s` seconds, with the ms
   that tocsin_poll would get now. Later ms of that period are corrected. Return 1, or 0 with the reason in `status`. */
static inline int tocsin_official(tocsin_plan *plan, int period, int32_t ms, int32_t shown_s)
{
    int32_t at_ms;
    if (period < 0 || period >= TOCSIN_PERIODS || period < plan->period) {
        plan->status = period >= 0 && period < TOCSIN_PERIODS ? TOCSIN_EARLIER_PERIOD : TOCSIN_WRONG_PERIOD;
        return 0;
    }
    plan->status = TOCSIN_WRONG_READING;
    at_ms = tocsin_do_shown(period, shown_s);
    if (ms < 0 || at_ms < 0)
        return 0;
    plan->corrected = -1;
    plan->correction_ms = at_ms + TOCSIN_LATE_PRESS_MS - tocsin_do_position(plan, period, ms);
    plan->corrected = period;
    plan->lost = plan->lost_told = 0;
    plan->status = TOCSIN_OK;
    tocsin_do_look_again(plan);
    return 1;
}

/* Return 1 while a role's pad is to be left to the cues: from 300 ms before one is due until 150 ms after its pattern
   has ended. `ms` is what tocsin_poll got, or gets next. */
static inline int tocsin_busy(const tocsin_plan *plan, int role, int32_t ms)
{
    int32_t at_ms;
    int i, end;
    if (role < 0 || role >= TOCSIN_ROLES || plan->heard < 0 || ms < 0)
        return 0;
    at_ms = tocsin_do_position(plan, plan->heard, ms);
    if (plan->busy_from_ms[role] <= at_ms && at_ms < plan->busy_until_ms[role])
        return 1;
    if (plan->lost || plan->period != plan->heard)
        return 0;
    end = TOCSIN_I16(tocsin_segments[tocsin_do_segment(plan->period)][1]);
    for (i = plan->cursor[TOCSIN_RUMBLE]; i < end; i++) {
        const int decided = plan->flags[i]
            & (TOCSIN_I32(tocsin_firings[i].until_ms) ? TOCSIN_GIVEN | TOCSIN_BY_HAND : 0xFF);
        if (TOCSIN_I32(tocsin_firings[i].due_ms) - TOCSIN_BUSY_BEFORE_MS > at_ms)
            return 0;
        if (TOCSIN_I16(tocsin_firings[i].role) == role && at_ms <= TOCSIN_I32(tocsin_firings[i].last_ms)
            && i >= plan->first[TOCSIN_RUMBLE] && !decided && tocsin_do_played(plan, i))
            return 1;
    }
    return 0;
}

/* Return the firing that plays on a slot now, -1 for none, and since when: `ago_ms`. */
static inline int tocsin_do_playing(tocsin_plan *plan, int slot, int32_t now_ms, uint32_t *ago_ms)
{
    const int next = plan->next[slot];
    int playing = plan->playing[slot];
    *ago_ms = (uint32_t)now_ms - plan->began_ms[slot];
    if (playing >= 0 && *ago_ms >= (uint32_t)tocsin_do_lasts(playing))
        playing = plan->playing[slot] = -1;
    if (next >= 0) {
        plan->next[slot] = -1;
        if (playing < 0 || TOCSIN_I16(tocsin_firings[next].priority) >= TOCSIN_I16(tocsin_firings[playing].priority)) {
            playing = plan->playing[slot] = (int16_t)next;
            plan->began_ms[slot] = (uint32_t)now_ms;
            plan->step[slot] = 0;
            *ago_ms = 0;
        }
    }
    return playing;
}

/* Find how strongly a role's pad is to shake now: plan->strong and plan->weak, in percent. Return the larger of them.
   `now_ms` is any clock of milliseconds that runs on; patterns run on it, whatever the match does. */
static inline int tocsin_level(tocsin_plan *plan, int role, int32_t now_ms)
{
    uint32_t ago_ms;
    int playing;
    int32_t at;
    plan->strong = plan->weak = 0;
    if (role < 0 || role >= TOCSIN_ROLES)
        return 0;
    playing = tocsin_do_playing(plan, role, now_ms, &ago_ms);
    if (playing < 0)
        return 0;
    at = TOCSIN_I32(tocsin_step_from[TOCSIN_I16(tocsin_firings[playing].pattern)]);
    if (plan->step[role] > 0 && ago_ms < (uint32_t)TOCSIN_I32(tocsin_steps[at + plan->step[role] - 1][2]))
        plan->step[role] = 0;                                  /* the clock was set back a little */
    while ((uint32_t)TOCSIN_I32(tocsin_steps[at + plan->step[role]][2]) <= ago_ms)
        plan->step[role]++;
    at += plan->step[role];
    plan->strong = (int)TOCSIN_I32(tocsin_steps[at][0]);
    plan->weak = (int)TOCSIN_I32(tocsin_steps[at][1]);
    return plan->strong > plan->weak ? plan->strong : plan->weak;
}

/* Find which tone a loudspeaker is to give now: return its pitch in Hz, 0 for silence; plan->loudness is in percent.
   Only for practice: event rules mostly forbid sound. `now_ms` is the clock of tocsin_level. */
static inline int tocsin_tone(tocsin_plan *plan, int32_t now_ms)
{
    uint32_t ago_ms;
    int playing;
    int32_t at, from_ms, hz, to_hz, lasts_ms;
    plan->loudness = 0;
    playing = tocsin_do_playing(plan, TOCSIN_SPEAKER, now_ms, &ago_ms);
    if (playing < 0)
        return 0;
    at = TOCSIN_I32(tocsin_tone_from[TOCSIN_I16(tocsin_firings[playing].pattern)]);
    from_ms = 0;
    while ((uint32_t)TOCSIN_I32(tocsin_tone_steps[at][3]) <= ago_ms)
        from_ms = TOCSIN_I32(tocsin_tone_steps[at++][3]);
    hz = TOCSIN_I32(tocsin_tone_steps[at][0]);
    to_hz = TOCSIN_I32(tocsin_tone_steps[at][1]);
    lasts_ms = TOCSIN_I32(tocsin_tone_steps[at][3]) - from_ms;
    plan->loudness = (int)TOCSIN_I32(tocsin_tone_steps[at][2]);
    return (int)(hz + (to_hz - hz) * ((int32_t)ago_ms - from_ms) / lasts_ms);
}

/* ---- What a strip of light shows --------------------------------------------------------------------------------- */

/* Return whether a scheduled row of light shows at the newest position. One without an `until` shows once, and only if
   it came in time; one that has an `until` shows whenever the position lies in it. */
static inline int tocsin_do_lit(tocsin_plan *plan, int row)
{
    const int32_t due_ms = TOCSIN_I32(tocsin_firings[row].due_ms);
    const int32_t until_ms = TOCSIN_I32(tocsin_firings[row].until_ms);
    int inside = plan->position_ms >= due_ms && tocsin_do_played(plan, row);
    if (until_ms)
        return inside && plan->position_ms < until_ms && !(plan->flags[row] & TOCSIN_BY_HAND);
    if ((plan->flags[row] & (TOCSIN_GIVEN | TOCSIN_OVER)) != TOCSIN_GIVEN)
        return 0;
    inside = inside
        && plan->position_ms - due_ms < TOCSIN_I32(tocsin_lights[TOCSIN_I16(tocsin_firings[row].pattern)].lasts_ms);
    if (!inside)
        plan->flags[row] = (uint8_t)(plan->flags[row] | TOCSIN_OVER);
    return inside;
}

/* Return a / b rounded to the nearest, halves to the even number. */
static inline int32_t tocsin_do_rounded(int32_t a, int32_t b)
{
    const int32_t whole = a / b, twice = (a % b) * 2;
    return twice > b || (twice == b && (whole & 1)) ? whole + 1 : whole;
}

/* Return how bright a swell is at a phase of its cycle, 16384 for full: 0.6 + 0.4 cos, from a table of half a cycle. */
static inline int32_t tocsin_do_swell(int32_t phase_ms, int32_t cycle_ms)
{
    const int32_t half = phase_ms * 2 <= cycle_ms ? phase_ms : cycle_ms - phase_ms;
    const int32_t at = half * (2 * 32 * 64) / cycle_ms;        /* 64 parts of each of 32 places */
    const int place = (int)(at / 64);
    const int32_t low = TOCSIN_I16(tocsin_swell[place]), high = TOCSIN_I16(tocsin_swell[place + 1]);
    return low + (high - low) * (at % 64) / 64;
}

/* Find the look of a row's form on so many LEDs, `ago_ms` after its begin, with `left_ms` of `whole_ms` left. */
static inline void tocsin_do_look(tocsin_plan *plan, int row, int32_t ago_ms, int32_t left_ms, int32_t whole_ms)
{
    const int pattern = TOCSIN_I16(tocsin_firings[row].pattern);
    const int32_t cycle_ms = TOCSIN_I32(tocsin_lights[pattern].cycle_ms);
    const int32_t phase_ms = ago_ms % cycle_ms;
    int32_t width = tocsin_do_rounded(TOCSIN_I16(tocsin_lights[pattern].width) * (int32_t)plan->leds, 10000);
    int32_t from = 0, to = plan->leds, swell = 16384;
    int i, swapped = 0;
    width = width > 0 ? width : 1;
    plan->every = 0;
    switch (TOCSIN_U8(tocsin_lights[pattern].form)) {
    case TOCSIN_SWELL:
        swell = tocsin_do_swell(phase_ms, cycle_ms);
        break;
    case TOCSIN_ON_OFF:
        to = 2 * phase_ms < cycle_ms ? to : 0;
        break;
    case TOCSIN_SHUTTLE:
        from = tocsin_do_rounded((2 * phase_ms <= cycle_ms ? 2 * phase_ms : 2 * (cycle_ms - phase_ms))
                                 * (plan->leds - width), cycle_ms);
        to = from + width;
        break;
    case TOCSIN_QUEUE:
        from = 2 * width - phase_ms * (2 * width) / cycle_ms;
        to = width;
        plan->every = (int16_t)(2 * width);
        break;
    case TOCSIN_BANDS:
        to = width;
        plan->every = (int16_t)(2 * width);
        break;
    case TOCSIN_EBB:
        for (; whole_ms > INT32_C(1000000); whole_ms /= 2)     /* so that no product overflows */
            left_ms /= 2;
        left_ms = left_ms < whole_ms ? left_ms : whole_ms;
        to = (left_ms * plan->leds + whole_ms - 1) / whole_ms;
        from = (plan->leds - to) / 2;
        to += from;
        break;
    case TOCSIN_APART:
        from = (plan->leds - 1) / 2 > 1 ? (plan->leds - 1) / 2 : 1;
        from = width < from ? width : from;
        to = plan->leds - from;
        swapped = 1;
        break;
    default:
        break;
    }
    plan->from = (int16_t)from;
    plan->to = (int16_t)to;
    for (i = 0; i < 3; i++) {
        plan->colours[swapped][i] = (uint8_t)((TOCSIN_U8(tocsin_lights[pattern].first[i]) * swell + 8192) / 16384);
        plan->colours[1 - swapped][i] = TOCSIN_U8(tocsin_lights[pattern].second[i]);
    }
}

/* Find what a strip of so many LEDs (1 to 2000) shows now: by the newest tocsin_poll, and for calls by `now_ms`, the
   clock of tocsin_level. Return the row of light that shows, or -1: it is dark. Then ask tocsin_led for each LED. */
static inline int tocsin_light(tocsin_plan *plan, int32_t now_ms, int leds)
{
    int i, end, row = -1;
    int32_t ago_ms, due_ms, until_ms, whole_ms;
    plan->leds = leds < 0 ? 0 : leds > 2000 ? 2000 : leds;
    plan->from = plan->to = plan->every = 0;
    for (i = 0; i < 3; i++)
        plan->colours[0][i] = plan->colours[1][i] = 0;
    if (plan->known) {
        i = TOCSIN_I16(tocsin_segments[tocsin_do_segment(plan->heard)][2 * TOCSIN_LIGHT]);
        end = TOCSIN_I16(tocsin_segments[tocsin_do_segment(plan->heard)][2 * TOCSIN_LIGHT + 1]);
        for (; i < end; i++)
            if (tocsin_do_lit(plan, i)
                && (row < 0 || TOCSIN_I16(tocsin_firings[i].priority) >= TOCSIN_I16(tocsin_firings[row].priority)))
                row = i;
    }
    due_ms = row < 0 ? 0 : TOCSIN_I32(tocsin_firings[row].due_ms);
    if (!tocsin_do_called(plan, now_ms))
        plan->called = -1;
    else {
        const int called = TOCSIN_I16(tocsin_firings[plan->called].priority);
        const int other = row < 0 ? called - 1 : TOCSIN_I16(tocsin_firings[row].priority);
        const int newer = plan->called_segment == tocsin_do_segment(plan->heard < 0 ? 0 : plan->heard)
            && plan->called_from_ms >= due_ms;
        if (called > other || (called == other && newer)) {
            row = plan->called;
            ago_ms = (int32_t)((uint32_t)now_ms - plan->called_ms);
            ago_ms = ago_ms < 0 ? 0 : ago_ms;                  /* the clock was set back a little */
            whole_ms = TOCSIN_I32(tocsin_lights[TOCSIN_I16(tocsin_firings[row].pattern)].lasts_ms);
            if (plan->called_until_ms < 0 || !plan->known)
                tocsin_do_look(plan, row, ago_ms, whole_ms - ago_ms, whole_ms);
            else
                tocsin_do_look(plan, row, ago_ms, plan->called_until_ms - plan->position_ms,
                               plan->called_until_ms - plan->called_from_ms);
            return row;
        }
    }
    if (row < 0)
        return -1;
    until_ms = TOCSIN_I32(tocsin_firings[row].until_ms);
    ago_ms = plan->position_ms - due_ms;
    if (until_ms == TOCSIN_FOREVER)
        tocsin_do_look(plan, row, ago_ms, 1, 1);
    else {
        whole_ms = until_ms ? until_ms - due_ms
            : TOCSIN_I32(tocsin_lights[TOCSIN_I16(tocsin_firings[row].pattern)].lasts_ms);
        tocsin_do_look(plan, row, ago_ms, whole_ms - ago_ms, whole_ms);
    }
    return row;
}

/* Return the colour of an LED, from 0, in what the last tocsin_light found: 0xRRGGBB. */
static inline uint32_t tocsin_led(const tocsin_plan *plan, int led)
{
    const uint8_t *colour;
    int first;
    if (led < 0 || led >= plan->leds)
        return 0;
    if (plan->every)
        first = (led + plan->from) % plan->every < plan->to;
    else
        first = led >= plan->from && led < plan->to;
    colour = plan->colours[first ? 0 : 1];
    return (uint32_t)colour[0] << 16 | (uint32_t)colour[1] << 8 | colour[2];
}

/* ---- One clock and one button, for a program that has no periods of its own --------------------------------------- */

/* Return how many milliseconds ago the segment that runs began, at most TOCSIN_MOST_MS: what tocsin_busy wants. */
static inline int32_t tocsin_ms(const tocsin_plan *plan, int32_t now_ms)
{
    const uint32_t since_ms = (uint32_t)now_ms - plan->segment_began_ms;
    if (plan->segment < 0)
        return -1;
    return since_ms > (uint32_t)TOCSIN_MOST_MS ? TOCSIN_MOST_MS : (int32_t)since_ms;
}

/* Return the last period of a segment that begins at a position or before it. */
static inline int tocsin_do_period_at(int segment, int32_t at_ms)
{
    int i, found = -1;
    for (i = 0; i < TOCSIN_PERIODS; i++)
        if (tocsin_do_segment(i) == segment && (found < 0 || TOCSIN_I32(tocsin_periods[i].begin_ms) <= at_ms))
            found = i;
    return found;
}

/* Return 1 while the match, or its next period, waits for a person to press. */
static inline int tocsin_waits(const tocsin_plan *plan, int32_t now_ms)
{
    int last;
    if (plan->segment < 0)
        return !plan->lost;
    if (plan->segment + 1 >= TOCSIN_SEGMENTS)
        return 0;
    last = tocsin_do_period_at(plan->segment, TOCSIN_FOREVER);
    if (TOCSIN_I32(tocsin_periods[last].end_ms) < 0)
        return tocsin_ms(plan, now_ms) >= TOCSIN_I32(tocsin_periods[last].begin_ms);
    return tocsin_ms(plan, now_ms) >= TOCSIN_I32(tocsin_periods[last].end_ms);
}

/* Return 1 once the last period has ended. */
static inline int tocsin_over(const tocsin_plan *plan, int32_t now_ms)
{
    return plan->segment == TOCSIN_SEGMENTS - 1
        && tocsin_ms(plan, now_ms) >= TOCSIN_I32(tocsin_periods[TOCSIN_PERIODS - 1].end_ms);
}

/* A person has pressed: begin the match, or the period that waits for it. A press counts as 250 ms late. Return 1, or 0
   if nothing waits. `now_ms` is the clock of tocsin_level, as the button went down. */
static inline int tocsin_begin(tocsin_plan *plan, int32_t now_ms)
{
    if (!tocsin_waits(plan, now_ms))
        return 0;
    plan->segment++;
    plan->segment_began_ms = (uint32_t)now_ms - TOCSIN_LATE_PRESS_MS;
    return 1;
}

/* In place of tocsin_poll: go from period to period on one clock. Return how many firings are newly due. Before
   tocsin_begin, or tocsin_sync, nothing comes. */
static inline int tocsin_roll(tocsin_plan *plan, int32_t now_ms)
{
    const int32_t at_ms = tocsin_ms(plan, now_ms);
    if (plan->segment < 0 && !plan->lost) {
        plan->count = 0;
        plan->status = TOCSIN_OK;
        tocsin_do_age(plan);
        return 0;
    }
    if (plan->segment < 0)
        return tocsin_poll(plan, TOCSIN_MAIN_PERIOD, -1);
    /* Time flows on into periods that begin by themselves: the segment's first one stands for all of them. */
    tocsin_poll(plan, tocsin_do_period_at(plan->segment, -1), at_ms);
    plan->log_period = tocsin_do_period_at(plan->segment, at_ms);
    plan->log_ms = at_ms - TOCSIN_I32(tocsin_periods[plan->log_period].begin_ms);
    return plan->count;
}

/* In place of tocsin_official, on the clock of tocsin_roll: the official display has just changed to `shown_s` seconds.
   While the clock is lost, or nothing has begun, that is the main period's reading; else it is that of the period in
   which it moves the clock least. Return 1, or 0 with the reason in `status`. */
static inline int tocsin_sync(tocsin_plan *plan, int32_t now_ms, int32_t shown_s)
{
    const int anew = plan->lost || plan->segment < 0;
    const int32_t here_ms = anew ? 0 : tocsin_ms(plan, now_ms);
    int i, found = -1;
    int32_t least_ms = 0;
    for (i = 0; i < TOCSIN_PERIODS; i++) {
        const int32_t at_ms = tocsin_do_shown(i, shown_s);
        const int32_t off_ms = at_ms < here_ms ? here_ms - at_ms : at_ms - here_ms;
        if (at_ms < 0 || (anew ? i != TOCSIN_MAIN_PERIOD : tocsin_do_segment(i) != plan->segment))
            continue;
        if (found < 0 || off_ms < least_ms) {
            found = i;
            least_ms = off_ms;
        }
    }
    plan->status = TOCSIN_WRONG_READING;
    if (found < 0)
        return 0;
    plan->segment = tocsin_do_segment(found);
    if (plan->period >= 0 && tocsin_do_segment(plan->period) > plan->segment)
        plan->period = -1;                                     /* a person says that the match is not that far */
    plan->segment_began_ms = (uint32_t)now_ms - (uint32_t)(tocsin_do_shown(found, shown_s) + TOCSIN_LATE_PRESS_MS);
    plan->corrected = -1;
    plan->furthest_ms = 0;
    plan->lost = plan->lost_told = 0;
    plan->status = TOCSIN_OK;
    tocsin_do_look_again(plan);
    return 1;
}

#ifdef __AVR__
typedef char tocsin_state_fits[sizeof(tocsin_plan) <= 700 ? 1 : -1];
#endif

#endif
