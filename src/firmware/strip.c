/* The strip's controller: frames in on the serial line, light out.
 *
 * For an ATmega328P at 16 MHz and 5 V. LED data on PB0; the serial line on PD0 and PD1, which most boards lead to USB.
 * Read README.md before you flash or wire anything.
 */

#include <avr/interrupt.h>
#include <avr/wdt.h>

#include "clock.h"
#include "commands.h"
#include "frames.h"
#include "guard.h"
#include "leds.h"
#include "receive.h"
#include "settings.h"

/* Tocsin repeats a lit frame each second, so one may be lost; in a second and a half the repeat would race the end. */
#define BLACK_AFTER_MS 2500
#define GREET_EACH_MS 1000

static uint32_t frame_ms, greeted_ms;
static uint8_t lit;

static void greet(void)
{
    static const char greeting[] = "Ada\n";

    for (const char *letter = greeting; *letter; letter++)
        receive_answer((uint8_t)*letter);
    greeted_ms = clock_ms();
}

static void go_black(void)
{
    frames_give_up();
    leds_black();
    guard_force();
    lit = 0;
}

static void show(void)
{
    leds_show();
    frames_whole = 0;
    lit = 1;
}

/* Let the guard look at the frame that comes. */
static void look(void)
{
    static uint8_t begun;

    if (begun != frames_begun) {
        begun = frames_begun;
        guard_look_anew();
    }
    guard_look(frames_end());
}

int main(void)
{
    uint8_t answers = 0, retries = 0;
    enum heard heard;

    settings_load();
    clock_begin();
    leds_begin();                       /* dark before anything is said */
    clock_calibrate(settings.clock_ppm);
    guard_begin();
    receive_begin(settings.baud);
    wdt_enable(WDTO_1S);
    sei();
    greet();
    for (;;) {
        wdt_reset();
        clock_poll();
        retries |= guard_poll();
        heard = frames_poll();
        look();
        switch (heard) {
        case HEARD_TPM2:
            answers = 1;
            /* fall through */
        case HEARD_ADALIGHT:
            frame_ms = clock_ms();
            retries = 1;
            break;
        case HEARD_COMMAND:
            if (commands_answer(KIND_STRIP)) {
                go_black();
                guard_begin();          /* more LEDs may be lit from here on */
            }
            break;
        case HEARD_NOTHING:
            break;
        }
        if (retries && frames_whole && guard_admit())
            show();
        retries = 0;
        if (answers)
            receive_answer(TPM2_TAKEN);
        answers = 0;
        if (lit && clock_ms() - frame_ms >= BLACK_AFTER_MS)
            go_black();
        if (frames_silent_ms() >= GREET_EACH_MS && clock_ms() - greeted_ms >= GREET_EACH_MS)
            greet();
    }
}
