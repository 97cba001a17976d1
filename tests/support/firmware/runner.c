/* Runs a board's program on an emulated ATmega328P (libsimavr), with a receiver as the datasheet has it.
 *
 *     runner IMAGE.hex SCRIPT OUT
 *
 * simavr's own UART holds 64 bytes and so hides every loss; this one holds two characters and the shift register,
 * samples the line as the datasheet says (three samples in the middle of a bit), and sets FE0 and DOR0. All times are
 * the chip's cycles.
 *
 * Lines of SCRIPT, by time; "at" is the earliest time, bytes follow each other:
 *     eeprom HEX | seed N | edges | visits WORD | log PIN | watch ADDRESS     before all others; PIN as B0
 *     at bit CYCLES         how long a bit of the bytes below takes, with a fraction
 *     at bytes HEX          at bad HEX: with a low stop bit
 *     at low CYCLES         the line is low
 *     at cut                the line is idle from here, even in the middle of a byte
 *     at pin PIN 0|1        somebody else drives a pin
 *     at reset MCUSR        with that cause
 *     at power              memory holds noise, then a reset
 *     at hang               the program goes in a circle until a reset
 *     at supply MV          the supply's voltage, which the converter measures; 5000 at first
 *     at end
 * Lines of OUT:
 *     frame BEGIN END HEX   what the LEDs got: low for 280 us ends it;  part BEGIN END BITS: one of a broken byte
 *     edge AT LEVEL         of the LEDs, with edges
 *     pulse KIND CYCLES COUNT    h0 h1 l0 l1 inside bytes, gap behind a byte
 *     out AT BYTE | pin PIN AT LEVEL | watch ADDRESS AT VALUE | reset AT MCUSR | visit COUNT MIN SUM MAX
 *     lost OVERRUNS FRAMING | eeprom HEX | stack LEAST    the lowest stack pointer, with visits
 */

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_cycle_timers.h>
#include <simavr/sim_hex.h>
#include <simavr/sim_interrupts.h>
#include <simavr/sim_io.h>

/* Addresses of the ATmega328P, datasheet "Register Summary". */
enum { UCSR0A = 0xC0, UCSR0B = 0xC1, UBRR0L = 0xC4, UBRR0H = 0xC5, UDR0 = 0xC6, MCUSR = 0x54, SPL = 0x5D, EECR = 0x3F, EEDR = 0x40,
       EEARL = 0x41, EEARH = 0x42 };
enum { RXC = 0x80, TXC = 0x40, UDRE = 0x20, FE = 0x10, DOR = 0x08, U2X = 0x02, RXEN = 0x10, TXEN = 0x08,
       EERE = 0x01, EEPE = 0x02, EEMPE = 0x04 };
#define CYCLES_A_US 16
#define LATCH (280 * CYCLES_A_US)
#define MOST_PULSE 65536
#define EEPROM_BYTES 1024
/* "Typical programming time" of a byte, datasheet. */
#define EEPROM_CYCLES (3400 * CYCLES_A_US)

enum kind { BYTE, BAD, LOW, IDLE };

struct item { double begin, end, bit; enum kind kind; uint8_t byte; };

static avr_t *avr;
static avr_uart_t *uart;
static FILE *out;

/* -- the line, as it is driven ------------------------------------------------------------------------------------ */

static struct item *items;
static size_t count, room, around;

static void add(double begin, double length, enum kind kind, uint8_t byte, double bit)
{
    if (count == room) {
        room = room ? 2 * room : 1024;
        items = realloc(items, room * sizeof *items);
    }
    items[count++] = (struct item){begin, begin + length, bit, kind, byte};
}

static int level_of(const struct item *item, double at)
{
    int bit = (int)((at - item->begin) / item->bit);

    if (at >= item->end || item->kind == IDLE)
        return 1;
    if (item->kind == LOW || bit == 0)
        return 0;
    if (bit >= 9)
        return item->kind != BAD;
    return item->byte >> (bit - 1) & 1;
}

/* The newest item that has begun decides: a later one cuts an earlier one short. */
static int level_at(double at)
{
    while (around + 1 < count && items[around + 1].begin <= at)
        around++;
    while (around > 0 && items[around].begin > at)
        around--;
    return count == 0 || items[around].begin > at ? 1 : level_of(&items[around], at);
}

static double next_fall(double from)
{
    size_t n;

    level_at(from);
    for (n = around; n < count; n++) {
        double until = n + 1 < count && items[n + 1].begin < items[n].end ? items[n + 1].begin : items[n].end;
        double step = items[n].kind == LOW || items[n].kind == IDLE ? items[n].end - items[n].begin : items[n].bit;
        double at;

        for (at = items[n].begin; at < until - 1e-6; at += step)
            if (at >= from && level_at(at + 1e-3) == 0 && level_at(at - 1e-3) == 1)
                return at;
    }
    return -1;
}

/* -- the receiver -------------------------------------------------------------------------------------------------- */

static struct { uint8_t byte[2], framing[2], held, waiting, waits, waits_framing, overrun; } fifo;
static struct { uint8_t waiting, waits, busy, complete; } sender;
static double listens_from, falls_at;
static long overruns, framings;
static uint8_t double_speed;

static double divider(void)
{
    return (avr->data[UBRR0L] | (avr->data[UBRR0H] & 0xF) << 8) + 1;
}

static void set_flags(void)
{
    uint8_t flags = sender.complete ? TXC : 0;

    flags |= sender.waits ? 0 : UDRE;
    flags |= double_speed ? U2X : 0;
    flags |= fifo.held ? RXC : 0;
    flags |= fifo.held && fifo.framing[0] ? FE : 0;
    flags |= fifo.overrun ? DOR : 0;
    if (fifo.held)
        avr_raise_interrupt(avr, &uart->rxc);
    else if (uart->rxc.pending)
        avr_clear_interrupt(avr, &uart->rxc);
    avr->data[UCSR0A] = flags;
}

static void push(uint8_t byte, uint8_t framing)
{
    fifo.byte[fifo.held] = byte;
    fifo.framing[fifo.held++] = framing;
}

static uint8_t read_status(avr_t *a, avr_io_addr_t address, void *unused)
{
    (void)a, (void)unused;
    return avr->data[address];
}

static void write_status(avr_t *a, avr_io_addr_t address, uint8_t value, void *unused)
{
    (void)a, (void)address, (void)unused;
    double_speed = value & U2X ? 1 : 0;
    if (value & TXC)                            /* cleared by a one */
        sender.complete = 0;
    set_flags();
}

static void write_control(avr_t *a, avr_io_addr_t address, uint8_t value, void *unused)
{
    (void)a, (void)unused;
    avr->data[address] = value;
    set_flags();
}

static uint8_t read_data(avr_t *a, avr_io_addr_t address, void *unused)
{
    uint8_t byte = fifo.byte[0];

    (void)a, (void)address, (void)unused;
    if (fifo.held) {
        fifo.byte[0] = fifo.byte[1];
        fifo.framing[0] = fifo.framing[1];
        fifo.held--;
        if (fifo.waits) {
            push(fifo.waiting, fifo.waits_framing);
            fifo.waits = 0;
        }
    }
    fifo.overrun = 0;
    set_flags();
    return byte;
}

static avr_cycle_count_t start_bit(avr_t *a, avr_cycle_count_t when, void *unused);

static void listen(double from)
{
    listens_from = from;
    falls_at = next_fall(from);
    avr_cycle_timer_cancel(avr, start_bit, NULL);
    if (falls_at >= 0) {
        double after = falls_at - (double)avr->cycle;
        avr_cycle_timer_register(avr, after < 1 ? 1 : (avr_cycle_count_t)after + 1, start_bit, NULL);
    }
}

static int sampled(double first, double sample, int each, int bit)
{
    int middle = each / 2, sum = 0, n;

    for (n = middle - 1; n <= middle + 1; n++)           /* samples 8, 9, 10 of 16, or 4, 5, 6 of 8; the first is 1 */
        sum += level_at(first + (bit * each + n) * sample);
    return sum >= 2;
}

static avr_cycle_count_t whole(avr_t *a, avr_cycle_count_t when, void *param)
{
    uint16_t got = (uint16_t)(uintptr_t)param;
    uint8_t framing = !(got & 0x100);

    (void)a, (void)when;
    framings += framing;
    if (fifo.held < 2) {
        push((uint8_t)got, framing);
    } else {
        fifo.waiting = (uint8_t)got;
        fifo.waits_framing = framing;
        fifo.waits = 1;
    }
    set_flags();
    listen(listens_from);
    return 0;
}

static avr_cycle_count_t start_bit(avr_t *a, avr_cycle_count_t when, void *unused)
{
    int each = double_speed ? 8 : 16, bit;
    double sample = divider();
    double first = (double)(avr_cycle_count_t)(falls_at / sample + 1) * sample;
    uint16_t got = 0;

    (void)a, (void)when, (void)unused;
    if (!(avr->data[UCSR0B] & RXEN)) {
        listen(falls_at + sample);
        return 0;
    }
    if (sampled(first, sample, each, 0)) {               /* a spike, no start bit */
        listen(falls_at + sample);
        return 0;
    }
    if (fifo.waits) {
        fifo.waits = 0;
        fifo.overrun = 1;
        overruns++;
        set_flags();
    }
    for (bit = 1; bit <= 9; bit++)
        got |= (uint16_t)(sampled(first, sample, each, bit) << (bit - 1));
    listens_from = first + (9 * each + each / 2 + 1) * sample;
    avr_cycle_timer_register(avr, (avr_cycle_count_t)(listens_from - (double)avr->cycle) + 1, whole,
                             (void *)(uintptr_t)got);
    return 0;
}

/* -- the sender: a register and a shift register ------------------------------------------------------------------ */

static avr_cycle_count_t left(avr_t *a, avr_cycle_count_t when, void *unused);

static void begin_sending(uint8_t byte)
{
    int each = double_speed ? 8 : 16;

    fprintf(out, "out %llu %u\n", (unsigned long long)avr->cycle, byte);
    sender.busy = 1;
    avr_cycle_timer_register(avr, (avr_cycle_count_t)(10 * each * divider()), left, NULL);
}

static avr_cycle_count_t left(avr_t *a, avr_cycle_count_t when, void *unused)
{
    (void)a, (void)when, (void)unused;
    sender.busy = 0;
    if (sender.waits) {
        sender.waits = 0;
        begin_sending(sender.waiting);
    } else {
        sender.complete = 1;
    }
    set_flags();
    return 0;
}

static void write_data(avr_t *a, avr_io_addr_t address, uint8_t value, void *unused)
{
    (void)a, (void)address, (void)unused;
    if (!(avr->data[UCSR0B] & TXEN))
        return;
    if (!sender.busy) {
        begin_sending(value);
    } else if (!sender.waits) {
        sender.waits = 1;
        sender.waiting = value;
    }
    set_flags();
}

/* -- the EEPROM: simavr's writes at once -------------------------------------------------------------------------- */

static struct { uint8_t memory[EEPROM_BYTES], busy, byte; unsigned address; avr_cycle_count_t enabled; } eeprom;

static uint8_t random_byte(void);

static avr_cycle_count_t written(avr_t *a, avr_cycle_count_t when, void *unused)
{
    (void)a, (void)when, (void)unused;
    eeprom.memory[eeprom.address] = eeprom.byte;
    eeprom.busy = 0;
    avr->data[EECR] &= (uint8_t)~EEPE;
    return 0;
}

static void write_eeprom(avr_t *a, avr_io_addr_t control, uint8_t value, void *unused)
{
    unsigned address = (avr->data[EEARL] | (unsigned)avr->data[EEARH] << 8) % EEPROM_BYTES;

    (void)a, (void)unused;
    if (value & EEPE && !eeprom.busy && eeprom.enabled && avr->cycle - eeprom.enabled <= 6) {
        eeprom.busy = 1;
        eeprom.address = address;
        eeprom.byte = avr->data[EEDR];
        avr_cycle_timer_register(avr, EEPROM_CYCLES, written, NULL);
    }
    if (value & EEMPE)
        eeprom.enabled = avr->cycle;
    if (value & EERE && !eeprom.busy)
        avr->data[EEDR] = eeprom.memory[address];
    avr->data[control] = (uint8_t)((value & 0x38) | (eeprom.busy ? EEPE : 0));
}

/* A byte that is being written as the power goes holds anything. */
static void tear(void)
{
    if (eeprom.busy)
        eeprom.memory[eeprom.address] = random_byte();
    eeprom.busy = 0;
}

/* -- the LEDs ------------------------------------------------------------------------------------------------------ */

static struct { avr_cycle_count_t begin, rise, fall; size_t bits; int high, last, edges; uint8_t data[8192]; } leds;
static unsigned long pulses[5][MOST_PULSE];
enum { H0, H1, L0, L1, GAP };

static void count_pulse(int kind, avr_cycle_count_t cycles)
{
    pulses[kind][cycles < MOST_PULSE ? cycles : MOST_PULSE - 1]++;
}

static void end_frame(void)
{
    size_t n;

    if (!leds.bits)
        return;
    if (leds.bits % 8) {
        fprintf(out, "part %llu %llu %zu\n", (unsigned long long)leds.begin, (unsigned long long)leds.fall, leds.bits);
    } else {
        fprintf(out, "frame %llu %llu ", (unsigned long long)leds.begin, (unsigned long long)leds.fall);
        for (n = 0; n < leds.bits / 8; n++)
            fprintf(out, "%02x", leds.data[n]);
        fputc('\n', out);
    }
    leds.bits = 0;
}

static void led_pin(avr_irq_t *irq, uint32_t value, void *unused)
{
    avr_cycle_count_t now = avr->cycle;

    (void)irq, (void)unused;
    if ((int)value == leds.high)
        return;
    leds.high = (int)value;
    if (leds.edges)
        fprintf(out, "edge %llu %d\n", (unsigned long long)now, leds.high);
    if (value) {
        avr_cycle_count_t low = now - leds.fall;

        if (leds.bits && low >= LATCH)
            end_frame();
        else if (leds.bits)
            count_pulse(leds.bits % 8 == 0 ? GAP : leds.last ? L1 : L0, low);
        if (!leds.bits)
            leds.begin = now;
        leds.rise = now;
    } else {
        avr_cycle_count_t high = now - leds.rise;

        leds.last = high >= 8;
        count_pulse(leds.last ? H1 : H0, high);
        leds.fall = now;
        if (leds.bits / 8 < sizeof leds.data) {
            uint8_t *byte = &leds.data[leds.bits / 8];

            *byte = (uint8_t)(*byte << 1 | leds.last);
            leds.bits++;
        }
    }
}

/* -- other pins, registers, what the program sends ----------------------------------------------------------------- */

static struct { char port; int bit, level; } driven[24];
static int driven_count;
static struct { unsigned address; int value; } watched[16];
static int watched_count;
static struct { unsigned word; unsigned long count; avr_cycle_count_t last, least, sum, most; } visits;

static void other_pin(avr_irq_t *irq, uint32_t value, void *name)
{
    (void)irq;
    fprintf(out, "pin %s %llu %u\n", (char *)name, (unsigned long long)avr->cycle, value);
}

static void drive(char port, int bit, int level)
{
    avr_ioport_external_t external = {.name = (unsigned long)port, .mask = 0, .value = 0};
    int n;

    for (n = 0; n < driven_count && (driven[n].port != port || driven[n].bit != bit); n++)
        ;
    driven[n].port = port, driven[n].bit = bit, driven[n].level = level;
    driven_count += n == driven_count;
    /* Told both ways: a write to the port would lift the pin again otherwise. */
    for (n = 0; n < driven_count; n++)
        if (driven[n].port == port) {
            external.mask |= (unsigned)(1 << driven[n].bit);
            external.value |= (unsigned)(driven[n].level << driven[n].bit);
        }
    avr_ioctl(avr, (uint32_t)AVR_IOCTL_IOPORT_SET_EXTERNAL(port), &external);
    avr_raise_irq(avr_io_getirq(avr, (uint32_t)AVR_IOCTL_IOPORT_GETIRQ(port), bit), (uint32_t)level);
}

static unsigned least_stack = 0xFFFF;

static void watch(void)
{
    int n;

    for (n = 0; n < watched_count; n++)
        if (avr->data[watched[n].address] != watched[n].value) {
            watched[n].value = avr->data[watched[n].address];
            fprintf(out, "watch %u %llu %d\n", watched[n].address, (unsigned long long)avr->cycle, watched[n].value);
        }
    if (visits.word) {
        unsigned stack = (unsigned)(avr->data[SPL] | avr->data[SPL + 1] << 8);

        least_stack = stack > 0xFF && stack < least_stack ? stack : least_stack;
    }
    if (visits.word && avr->pc == 2 * visits.word) {
        avr_cycle_count_t took = avr->cycle - visits.last;

        if (visits.last) {
            visits.count++;
            visits.sum += took;
            visits.least = visits.count == 1 || took < visits.least ? took : visits.least;
            visits.most = took > visits.most ? took : visits.most;
        }
        visits.last = avr->cycle;
    }
}

/* simavr runs several instructions at once up to the next timer: this makes it one. */
static avr_cycle_count_t single_step(avr_t *a, avr_cycle_count_t when, void *unused)
{
    (void)a, (void)unused;
    return when + 1;
}

/* -- a life ------------------------------------------------------------------------------------------------------- */

static int restarted, hung;
static uint32_t noise = 1, hung_at;
static uint16_t hung_over;

static uint8_t random_byte(void)
{
    noise = noise * 1664525u + 1013904223u;
    return (uint8_t)(noise >> 24);
}

static void on_reset(avr_t *a)
{
    (void)a;
    restarted = 1;
}

/* What simavr undoes at a reset. */
static void restart(void)
{
    int n, level;

    restarted = 0;
    tear();
    memset(&fifo, 0, sizeof fifo);
    memset(&sender, 0, sizeof sender);
    double_speed = 0;
    set_flags();
    level = leds.high;
    if (level) {                                        /* the pin floats now, and its resistor pulls it down */
        leds.high = 1;
        led_pin(NULL, 0, NULL);
    }
    if (hung) {
        avr->flash[hung_at] = (uint8_t)hung_over;
        avr->flash[hung_at + 1] = (uint8_t)(hung_over >> 8);
        hung = 0;
    }
    /* Input registers are empty now, and a level that was there before would not be told again. */
    for (n = 0; n < driven_count; n++) {
        avr_raise_irq(avr_io_getirq(avr, (uint32_t)AVR_IOCTL_IOPORT_GETIRQ(driven[n].port), driven[n].bit),
                      !driven[n].level);
        drive(driven[n].port, driven[n].bit, driven[n].level);
    }
    if (watched_count || visits.word)
        avr_cycle_timer_register(avr, 1, single_step, NULL);
    visits.last = 0;
    avr_cycle_timer_cancel(avr, whole, NULL);
    avr_cycle_timer_cancel(avr, left, NULL);
    avr_cycle_timer_cancel(avr, written, NULL);
    listen((double)avr->cycle);
    fprintf(out, "reset %llu %u\n", (unsigned long long)avr->cycle, avr->data[MCUSR]);
}

static void reset(uint8_t cause)
{
    avr_reset(avr);
    avr->data[MCUSR] = cause;
    restart();
}

static void power(void)
{
    uint32_t n;

    for (n = 0x100; n <= avr->ramend; n++)
        avr->data[n] = random_byte();
    reset(1);
}

static void hang(void)
{
    hung_at = avr->pc;
    hung_over = (uint16_t)(avr->flash[hung_at] | avr->flash[hung_at + 1] << 8);
    avr->flash[hung_at] = 0xFF;                         /* rjmp to itself */
    avr->flash[hung_at + 1] = 0xCF;
    hung = 1;
}

static size_t bytes_of(const char *hex, uint8_t *bytes, size_t most)
{
    size_t n;
    unsigned byte;

    for (n = 0; n < most && sscanf(hex + 2 * n, "%2x", &byte) == 1; n++)
        bytes[n] = (uint8_t)byte;
    return n;
}

struct event { avr_cycle_count_t at; char verb[8]; char pin[4]; int value; };

static struct event *events;
static size_t event_count;

static void read_script(const char *path)
{
    static char line[1 << 20], rest[1 << 20];
    static uint8_t bytes[1 << 19];
    FILE *script = fopen(path, "r");
    double bit = 138.9, free_at = 0;

    if (!script) {
        perror(path);
        exit(2);
    }
    while (fgets(line, sizeof line, script)) {
        char verb[16];
        double at;
        size_t n, length;
        struct event event = {0};

        rest[0] = 0;
        if (sscanf(line, "%lf %15s %s", &at, verb, rest) < 2) {
            sscanf(line, "%15s %s", verb, rest);
            if (!strcmp(verb, "eeprom")) {
                bytes_of(rest, eeprom.memory, EEPROM_BYTES);
            } else if (!strcmp(verb, "seed")) {
                noise = (uint32_t)strtoul(rest, NULL, 10);
            } else if (!strcmp(verb, "edges")) {
                leds.edges = 1;
            } else if (!strcmp(verb, "visits")) {
                visits.word = (unsigned)strtoul(rest, NULL, 0);
            } else if (!strcmp(verb, "watch")) {
                watched[watched_count].address = (unsigned)strtoul(rest, NULL, 0);
                watched[watched_count++].value = -1;
            } else if (!strcmp(verb, "log")) {
                avr_irq_register_notify(avr_io_getirq(avr, (uint32_t)AVR_IOCTL_IOPORT_GETIRQ(rest[0]), rest[1] - '0'),
                                        other_pin, strdup(rest));
            } else {
                fprintf(stderr, "%s: cannot read: %s", path, line);
                exit(2);
            }
            continue;
        }
        if (!strcmp(verb, "bit")) {
            bit = strtod(rest, NULL);
            continue;
        }
        if (!strcmp(verb, "bytes") || !strcmp(verb, "bad")) {
            free_at = at > free_at ? at : free_at;
            length = bytes_of(rest, bytes, sizeof bytes);
            for (n = 0; n < length; n++, free_at += 10 * bit)
                add(free_at, 10 * bit, verb[1] == 'a' ? BAD : BYTE, bytes[n], bit);
            continue;
        }
        if (!strcmp(verb, "low") || !strcmp(verb, "cut")) {
            length = strtoul(rest, NULL, 10);
            free_at = verb[0] == 'c' ? at : at > free_at ? at : free_at;
            while (verb[0] == 'c' && count && items[count - 1].begin >= at)
                count--;
            add(free_at, verb[0] == 'c' ? 1 : (double)length, verb[0] == 'c' ? IDLE : LOW, 0, 1e12);
            free_at = items[count - 1].end;
            continue;
        }
        event.at = (avr_cycle_count_t)at;
        snprintf(event.verb, sizeof event.verb, "%.7s", verb);
        if (!strcmp(verb, "pin"))
            sscanf(line, "%*s %*s %3s %d", event.pin, &event.value);
        else
            event.value = (int)strtol(rest, NULL, 10);
        events = realloc(events, (event_count + 1) * sizeof *events);
        events[event_count++] = event;
    }
    fclose(script);
}

static void load(const char *path)
{
    ihex_chunk_p chunks = NULL;
    int n, found = read_ihex_chunks(path, &chunks);

    if (found <= 0) {
        fprintf(stderr, "%s: no Intel HEX\n", path);
        exit(2);
    }
    memset(avr->flash, 0xFF, avr->flashend + 1);
    for (n = 0; n < found; n++)
        memcpy(avr->flash + chunks[n].baseaddr, chunks[n].data, chunks[n].size);
    avr->codeend = avr->flashend;
}

static void no_sleep(avr_t *a, avr_cycle_count_t cycles)
{
    (void)a, (void)cycles;
}

static void quiet(avr_t *a, const int level, const char *format, va_list arguments)
{
    (void)a;
    if (level == LOG_ERROR)
        vfprintf(stderr, format, arguments);
}

static void set_up(void)
{
    avr_io_t *io;
    uint32_t flags = 0;

    avr_global_logger_set(quiet);
    avr = avr_make_mcu_by_name("atmega328p");
    avr_init(avr);
    avr->frequency = CYCLES_A_US * 1000000;
    avr->vcc = avr->avcc = 5000;
    avr->sleep = no_sleep;
    avr->reset = on_reset;
    for (io = avr->io_port; io; io = io->next)
        if (!strcmp(io->kind, "uart"))
            uart = (avr_uart_t *)io;
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    avr->io[AVR_DATA_TO_IO(UCSR0A)].r.c = read_status;
    avr->io[AVR_DATA_TO_IO(UCSR0A)].w.c = write_status;
    avr->io[AVR_DATA_TO_IO(UDR0)].r.c = read_data;
    avr->io[AVR_DATA_TO_IO(UDR0)].w.c = write_data;
    avr->io[AVR_DATA_TO_IO(EECR)].w.c = write_eeprom;
    memset(eeprom.memory, 0xFF, sizeof eeprom.memory);
    avr->io[AVR_DATA_TO_IO(UCSR0B)].w.c = write_control;
    avr_irq_register_notify(avr_io_getirq(avr, (uint32_t)AVR_IOCTL_IOPORT_GETIRQ('B'), 0), led_pin, NULL);
}

static void print_rest(void)
{
    static const char *const names[] = {"h0", "h1", "l0", "l1", "gap"};
    int kind;
    size_t n;

    end_frame();
    for (kind = 0; kind < 5; kind++)
        for (n = 0; n < MOST_PULSE; n++)
            if (pulses[kind][n])
                fprintf(out, "pulse %s %zu %lu\n", names[kind], n, pulses[kind][n]);
    if (visits.count)
        fprintf(out, "visit %lu %llu %llu %llu\n", visits.count, (unsigned long long)visits.least,
                (unsigned long long)visits.sum, (unsigned long long)visits.most);
    if (visits.word)
        fprintf(out, "stack %u\n", least_stack);
    fprintf(out, "lost %ld %ld\neeprom ", overruns, framings);
    for (n = 0; n < 64; n++)
        fprintf(out, "%02x", eeprom.memory[n]);
    fputc('\n', out);
}

int main(int argc, char **argv)
{
    size_t next = 0;

    if (argc != 4) {
        fprintf(stderr, "runner IMAGE.hex SCRIPT OUT\n");
        return 2;
    }
    out = fopen(argv[3], "w");
    set_up();
    load(argv[1]);
    read_script(argv[2]);
    power();
    for (;;) {
        int state;

        while (next < event_count && events[next].at <= avr->cycle) {
            struct event *event = &events[next++];

            if (!strcmp(event->verb, "end")) {
                print_rest();
                fclose(out);
                return 0;
            }
            if (!strcmp(event->verb, "pin"))
                drive(event->pin[0], event->pin[1] - '0', event->value);
            else if (!strcmp(event->verb, "reset"))
                reset((uint8_t)event->value);
            else if (!strcmp(event->verb, "power"))
                power();
            else if (!strcmp(event->verb, "hang"))
                hang();
            else if (!strcmp(event->verb, "supply"))
                avr->vcc = avr->avcc = (uint32_t)event->value;
        }
        if (next == event_count) {
            fprintf(stderr, "the script has no end\n");
            return 2;
        }
        state = avr_run(avr);
        if (restarted) {
            restart();
        }
        if (watched_count || visits.word)
            watch();
        if (state == cpu_Done || state == cpu_Crashed) {
            fprintf(stderr, "the program crashed at cycle %llu\n", (unsigned long long)avr->cycle);
            return 3;
        }
    }
}
