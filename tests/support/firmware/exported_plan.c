/* Says what an exported plan says, on a small chip by its serial line as on a desktop. Compiled with -DFACTS: what each
 * firing is. With -DMATCH: what a whole match gives, shakes, lights and sounds, asked for each 100 ms of it without
 * waiting for them. The plan is tocsin_plan.h. */

#include <stdint.h>
#include "tocsin_plan.h"

#ifdef __AVR__
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

static void put(char letter)
{
    while (!(UCSR0A & _BV(UDRE0))) {
    }
    UDR0 = (uint8_t)letter;
}
#else
#include <stdio.h>
static void put(char letter)
{
    putchar(letter);
}
#endif

static void text(const char *letters)
{
    while (*letters)
        put(*letters++);
}

static void number(int32_t n)
{
    char digits[12];
    int k = 0;
    uint32_t left = n < 0 ? 0u - (uint32_t)n : (uint32_t)n;
    if (n < 0)
        put('-');
    do
        digits[k++] = (char)('0' + left % 10u);
    while (left /= 10u);
    while (k)
        put(digits[--k]);
    put(' ');
}

#ifdef FACTS
static void stored(const char *letters)
{
    for (; TOCSIN_U8(*letters); letters++)
        put((char)TOCSIN_U8(*letters));
    put(' ');
}

static void say(void)
{
    int i, k;
    for (i = -1; i <= TOCSIN_FIRINGS; i++) {
        stored(tocsin_cue_id(i));
        stored(tocsin_word(i));
        stored(tocsin_role_id(i));
        number(tocsin_cue_of(i));
        number(tocsin_role_of(i));
        number(tocsin_n_of(i));
        number(tocsin_priority_of(i));
        for (k = -1; k <= tocsin_step_count(i); k++) {
            number(tocsin_step_strong(i, k));
            number(tocsin_step_weak(i, k));
            number(tocsin_step_ms(i, k));
        }
        for (k = -1; k <= tocsin_pulse_count(i); k++)
            number(tocsin_pulse_ms(i, k));
        put('\n');
    }
    for (i = TOCSIN_FIRINGS; i < TOCSIN_FIRST_TONE; i++)
        stored(tocsin_light_word(i));
    number(tocsin_period_named("driver"));
    number(tocsin_period_named("auto"));
    number(tocsin_period_named("nothing"));
    put('\n');
}
#endif

#ifdef MATCH
#define STEP_MS 100
#define LEDS 30

static tocsin_plan plan;

static void told(int got)
{
    char line[160];
    int i;
    for (i = 0; i < got; i++) {
        tocsin_log(&plan, i, line, sizeof line);
        text(line);
        put('\n');
    }
}

static uint32_t mixed(uint32_t hash, int32_t value)
{
    return (hash ^ (uint32_t)value) * 16777619u;
}

static void say(void)
{
    int32_t now, over_ms = 0;
    uint32_t before = 0;
    tocsin_restart(&plan, TOCSIN_DEFAULT_VARIANT);
    for (now = 0; over_ms < 3000; now += STEP_MS) {
        int32_t found[3 + 4 * TOCSIN_ROLES];
        uint32_t light = 2166136261u, all = 0;
        int i;
        if (now % 5000 == 2000)
            tocsin_begin(&plan, now);
        for (i = 0; i < TOCSIN_CUES; i++)
            if (now % 20000 == i * 1500L)
                told(tocsin_call(&plan, i, now));
        told(tocsin_roll(&plan, now));
        found[0] = tocsin_light(&plan, now, LEDS);
        for (i = 0; i < LEDS; i++)
            light = mixed(light, (int32_t)tocsin_led(&plan, i));
        found[1] = tocsin_tone(&plan, now);
        found[2] = plan.loudness;
        for (i = 0; i < TOCSIN_ROLES; i++) {
            found[3 + 4 * i] = tocsin_level(&plan, i, now);
            found[4 + 4 * i] = plan.strong;
            found[5 + 4 * i] = plan.weak;
            found[6 + 4 * i] = tocsin_busy(&plan, i, tocsin_ms(&plan, now));
        }
        over_ms += tocsin_over(&plan, now) ? STEP_MS : 0;
        for (i = 0; i < 3 + 4 * TOCSIN_ROLES; i++)
            all = mixed(all, found[i]);
        all = mixed(all, (int32_t)light);
        if (all == before)
            continue;
        before = all;
        number(now);
        number((int32_t)light);
        for (i = 0; i < 3 + 4 * TOCSIN_ROLES; i++)
            number(found[i]);
        put('\n');
    }
}
#endif

int main(void)
{
#ifdef __AVR__
    UCSR0A = _BV(U2X0);
    UBRR0 = 0;
    UCSR0B = _BV(TXEN0);
    say();
    text("end\n");
    sei();
    SMCR = _BV(SE);                     /* asleep: an emulator is done with that at once */
    for (;;)
        sleep_cpu();
#else
    say();
    text("end\n");
    return 0;
#endif
}
