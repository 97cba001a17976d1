/* The box: plays a plan without a laptop. One button starts it with the official clock; a motor shakes, a strip lights.
 *
 * For an ATmega328P at 16 MHz and 5 V. box_inputs.h has the pins of buttons and jumper, box_outputs.h those of motors,
 * buzzer and lamp; LED data on PB0. The plan lies in a block of its own in flash (plan.h), written by `tocsin export --to box`.
 * How to build one: hardware_notes/box.md.
 *
 * What holds whatever happens: nothing that is low as power comes is a press; no cue comes twice, or early, after any reset;
 * a supply below 4.2 V makes it dark and still; light never turns twice within 250 ms.
 */

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/wdt.h>

#include "box_apart.h"
#include "box_buttons.h"
#include "clock.h"
#include "commands.h"
#include "frames.h"
#include "box_inputs.h"
#include "box_lamp.h"
#include "leds.h"
#include "box_mark.h"
#include "box_outputs.h"
#include "plan.h"
#include "receive.h"
#include "reset.h"
#include "settings.h"
#include "box_role.h"
#include "box_supply.h"

#define DARK_MS 300                     /* after a reset: time for pull-ups, contacts and the supply */
#define SCRAP_MS 3000
#define ROLE_MS 1000
#define RING_OUT_MS 2000                /* patterns may go on so long behind the end (model/timeline/point.py) */
#define OVER_MS 5000
#define RESYNC_S 30
#define RESYNC_MOST_MS 10000L           /* a press that would move a known clock further was a wrong one */
#define REPEAT_FRAMES 50                /* a lit frame is sent again each half second, should one have been disturbed */

enum state { DARK, FAULT, IDLE, RUNNING, OVER, LOST };

static tocsin_plan plan;
static match_mark mark;
static button buttons[INPUTS];
static enum state state;
static uint32_t since_ms;               /* when the state began */
static uint8_t practice, scraps, was_lost, has_plan;
static uint16_t decided;                /* how many rows were, at the last look */
static uint32_t frame_ms;
static uint8_t frames_to_repeat;
static uint8_t shown[3 * MOST_LEDS];
static apart_swing swings[MOST_LEDS + 1];

EMPTY_INTERRUPT(TIMER1_COMPB_vect);

static void enter(enum state next, uint32_t now)
{
    state = next;
    since_ms = now;
}

/* -- what outlasts a reset ---------------------------------------------------------------------------------------- */

/* Note up to where all is decided, before any of it shows: whatever resets the chip from here on, it does not come again. */
static void note_decided(void)
{
    const uint16_t now = (uint16_t)(plan.cursor[0] + plan.cursor[1] + plan.cursor[2]);

    if (now == decided && mark.segment == plan.segment)
        return;
    decided = now;
    if (mark.segment != plan.segment || plan.position_ms > mark.given_ms)
        mark.given_ms = plan.position_ms;
    mark.segment = (int16_t)plan.segment;
    mark_write(&mark);
}

/* Take as given what was, before the chip was reset in this segment. */
static void leave_out_given(void)
{
    if (mark.called_segment >= 0) {
        plan.period = tocsin_do_period_at(mark.called_segment, -1);
        plan.position_ms = mark.called_ms;
        tocsin_do_give_next(&plan, TOCSIN_HOME);
        plan.period = -1;
        plan.position_ms = 0;
    }
    if (mark.segment != plan.segment)
        return;
    for (int channel = 0; channel < TOCSIN_CHANNELS; channel++) {
        const int end = TOCSIN_I16(tocsin_segments[plan.segment][2 * channel + 1]);

        for (int row = TOCSIN_I16(tocsin_segments[plan.segment][2 * channel]); row < end; row++)
            if (TOCSIN_I32(tocsin_firings[row].due_ms) <= mark.given_ms)
                plan.flags[row] |= TOCSIN_DONE | TOCSIN_GIVEN | TOCSIN_OVER;
    }
}

/* -- states ------------------------------------------------------------------------------------------------------- */

static void go_idle(uint32_t now)
{
    mark_clear();
    tocsin_restart(&plan, TOCSIN_DEFAULT_VARIANT);
    enter(IDLE, now);
}

static void start(uint32_t edge_ms, uint32_t now)
{
    tocsin_restart(&plan, TOCSIN_DEFAULT_VARIANT);
    tocsin_begin(&plan, (int32_t)edge_ms);
    mark = (match_mark){.segment = -1, .called_segment = -1};
    decided = 0;
    mark_write(&mark);
    enter(RUNNING, now);
}

static void lose(uint32_t now)
{
    tocsin_restart(&plan, TOCSIN_DEFAULT_VARIANT);
    tocsin_clock_lost(&plan);
    plan.lost_told = mark.lost_told;    /* once: a motor that pulls the supply down must not do so for ever */
    mark.lost_told = 1;
    mark_write(&mark);
    enter(LOST, now);
}

/* The official display has just changed to 0:30. */
static void resync(uint32_t edge_ms, uint32_t now)
{
    const int segment = plan.segment;
    const uint32_t began_ms = plan.segment_began_ms;
    int32_t moved_ms;

    if (!tocsin_sync(&plan, (int32_t)edge_ms, RESYNC_S))
        return;
    if (state == LOST) {
        leave_out_given();
        mark.lost_told = 0;
        mark_write(&mark);
        enter(RUNNING, now);
        return;
    }
    moved_ms = (int32_t)(plan.segment_began_ms - began_ms);
    if (moved_ms > RESYNC_MOST_MS || moved_ms < -RESYNC_MOST_MS) {
        plan.segment = segment;
        plan.segment_began_ms = began_ms;
    }
}

/* Give the call home by hand, if the plan has one. */
static void call(uint32_t now)
{
    if (TOCSIN_HOME < 0)
        return;
    tocsin_call(&plan, TOCSIN_HOME, (int32_t)now);
    if (plan.status == TOCSIN_OK && state == RUNNING && plan.period >= 0) {
        mark.called_segment = (int16_t)plan.segment;
        mark.called_ms = plan.position_ms;
        mark_write(&mark);
    }
}

/* -- buttons ------------------------------------------------------------------------------------------------------ */

static void pressed(uint8_t which, uint32_t edge_ms, uint32_t now)
{
    if (which == CALL && state != FAULT) {
        call(now);
    } else if (which == RESYNC && (state == RUNNING || state == LOST)) {
        resync(edge_ms, now);
    } else if (which == START) {
        scraps = state == RUNNING || state == LOST;
        if (state == IDLE)
            start(edge_ms, now);
        else if (state == RUNNING)
            tocsin_begin(&plan, (int32_t)edge_ms);
    }
}

static void take_buttons(uint32_t now)
{
    for (uint8_t i = 0; i < INPUTS; i++)
        if (button_take(&buttons[i], input_is_low(i), now) == BUTTON_PRESSED && state != DARK)
            pressed(i, buttons[i].edge_ms, now);
    if (scraps && button_held_ms(&buttons[START], now) >= SCRAP_MS) {
        scraps = 0;
        go_idle(now);
    }
    if (state == IDLE && button_held_ms(&buttons[ROLE], now) >= ROLE_MS) {
        button_begin(&buttons[ROLE], now);              /* one role a hold */
        role_next(now);
    }
}

/* -- what it shows ------------------------------------------------------------------------------------------------ */

static void play(uint32_t now, uint8_t low)
{
    uint16_t hz;

    if (state == RUNNING || state == LOST) {
        tocsin_roll(&plan, (int32_t)now);
        if (state == RUNNING)
            note_decided();
    }
    tocsin_level(&plan, role_number(), (int32_t)now);
    hz = (uint16_t)tocsin_tone(&plan, (int32_t)now);
    if (low)
        outputs_motors(0, 0);
    else
        outputs_motors((uint8_t)plan.strong, (uint8_t)plan.weak);
    outputs_tone(!low && practice && state != LOST ? hz : 0);
}

static void draw(uint32_t now, uint8_t low)
{
    uint8_t *led = leds_frame;
    uint8_t changed = 0, lit = 0;

    if (low) {
        for (uint16_t i = 0; i < 3 * settings.leds; i++)
            lit |= shown[i];
        apart_force_dark(swings, shown, settings.leds);
        changed = lit != 0;
    } else {
        tocsin_light(&plan, (int32_t)now, (int)settings.leds);
        for (uint16_t i = 0; i < settings.leds; i++) {
            const uint32_t colour = tocsin_led(&plan, (int)i);

            *led++ = (uint8_t)(colour >> 16);
            *led++ = (uint8_t)(colour >> 8);
            *led++ = (uint8_t)colour;
        }
        changed = apart_admit(swings, shown, leds_frame, settings.leds);
    }
    if (!changed && --frames_to_repeat)
        return;
    frames_to_repeat = REPEAT_FRAMES;
    for (uint16_t i = 0; i < 3 * settings.leds; i++)
        leds_frame[i] = (uint8_t)((shown[i] * (TOCSIN_U8(TOCSIN_HEADER->brightness) + 1U)) >> 8);
    leds_show();
}

static void go_on(uint32_t now)
{
    switch (state) {
    case DARK:
        if (now - since_ms < DARK_MS)
            return;
        if (!has_plan)
            enter(FAULT, now);
        else if (was_lost)
            lose(now);
        else
            go_idle(now);
        break;
    case RUNNING:
        if (tocsin_ms(&plan, (int32_t)now) >= RING_OUT_MS && tocsin_over(&plan, (int32_t)(now - RING_OUT_MS))) {
            mark_clear();
            enter(OVER, now);
        }
        break;
    case OVER:
        if (now - since_ms >= OVER_MS)
            go_idle(now);
        break;
    default:
        break;
    }
}

static enum lamp_look look_of(uint32_t now, uint8_t low)
{
    if (low)
        return LAMP_LOW;
    switch (state) {
    case FAULT:
        return LAMP_FAULT;
    case IDLE:
        return LAMP_SLOW;
    case RUNNING:
        return tocsin_waits(&plan, (int32_t)now) ? LAMP_SLOW : LAMP_ON;
    case LOST:
        return LAMP_FAST;
    default:
        return LAMP_OFF;
    }
}

/* -- the chip ----------------------------------------------------------------------------------------------------- */

/* Hold what the board keeps to the plan's limit: the board may have been the controller of a strip with a supply of its
   own, and the box's fuse is a small one. Dark LEDs draw 1 mA each, and less than that is no limit. */
static void hold_limit(void)
{
    uint16_t most_ma = (uint16_t)TOCSIN_I16(TOCSIN_HEADER->max_ma);

    if (most_ma <= settings.leds)
        most_ma = settings.leds + 1;
    if (settings.max_ma > most_ma)
        settings.max_ma = most_ma;
}

/* Take the strip of the rig that the plan was exported with, until the board has settings of its own. */
static void take_strip(void)
{
    settings.leds = (uint16_t)TOCSIN_I16(TOCSIN_HEADER->leds);
    settings.order = TOCSIN_U8(TOCSIN_HEADER->order);
    settings.max_ma = (uint16_t)TOCSIN_I16(TOCSIN_HEADER->max_ma);
    if (settings.leds > MOST_LEDS)
        settings.leds = MOST_LEDS;
}

static void begin(void)
{
    outputs_begin();
    clock_begin();
    leds_begin();
    inputs_begin();
    for (uint8_t i = 0; i < INPUTS; i++)
        button_begin(&buttons[i], clock_ms());
    supply_begin();
    was_lost = !(reset_cause & _BV(PORF)) && mark_read(&mark);
    if (!was_lost)
        mark_clear();
    has_plan = (uint8_t)tocsin_block_found();
    if (has_plan)
        take_strip();
    settings_load();
    if (has_plan)
        hold_limit();
    clock_calibrate(settings.clock_ppm);
    role_begin();
    apart_begin(swings, settings.leds);
    frames_to_repeat = REPEAT_FRAMES;
    receive_begin(settings.baud);
    TIMSK1 = _BV(OCIE1B);
    wdt_enable(WDTO_1S);
    sei();
    enter(DARK, clock_ms());
}

static void answer(void)
{
    if (frames_poll() != HEARD_COMMAND)
        return;
    if (!commands_answer(KIND_BOX))
        return;
    leds_black();                       /* more LEDs may be there from here on, or fewer */
    apart_force_dark(swings, shown, MOST_LEDS);
    apart_begin(swings, settings.leds);
}

/* Sleep for half a millisecond, or until something comes on the line: a battery lasts longer so. */
static void rest(void)
{
    cli();
    OCR1B = (uint16_t)(TCNT1 + CLOCK_TICKS_A_MS / 2);
    SMCR = _BV(SE);                     /* the lightest way to sleep: timers and line go on */
    sei();
    sleep_cpu();
    SMCR = 0;
}

int main(void)
{
    uint32_t played_ms = 0;

    begin();
    for (;;) {
        uint32_t now;
        uint8_t low;

        wdt_reset();
        clock_poll();
        now = clock_ms();
        answer();
        low = supply_is_low(now);
        practice = inputs_practice();
        if (now != played_ms) {
            played_ms = now;
            take_buttons(now);
            go_on(now);
            if (state != DARK && state != FAULT)
                play(now, low);
            outputs_lamp(lamp_is_on(look_of(now, low), now));
        }
        if (now - frame_ms >= APART_FRAME_MS) {
            frame_ms += APART_FRAME_MS;
            if (state != DARK && state != FAULT)
                draw(now, low);
        }
        rest();
    }
}
