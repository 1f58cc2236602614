/*
 * A reference controller for the programmes in wash_timing.h, in C99 (a C++11 compiler takes it as well).
 *
 * SPDX-License-Identifier: MIT
 *
 * AN EXAMPLE TO START FROM, NOT A PRODUCT. It was tried on a simulated machine, never on yours.
 *
 * CAUTIONS
 * - Mains voltage and water kill. Wiring, protective earth and the earth-fault device are work for a licensed
 *   electrician; local codes and licensed practice come first. The device is a 30 mA RCD of type A or better;
 *   in North America a class A GFCI (UL 943, trips at 4-6 mA); behind an inverter either trips only if its
 *   neutral is bonded.
 * - No program makes an element safe. A float switch in series with it, a thermal cut-out with manual reset
 *   whose feeler is on its sheath, and that device are not optional: they must stop the element with this
 *   controller stuck, wrong or absent. So are, where the opening lines of the constants name them, a second
 *   cut-out for the bath and its tank, and a thermal protector or fuse in each motor: a seized one burns.
 * - Never leave it running alone, or while you sleep.
 * - It cannot see a clock that runs slow or fast: every time in here would be as wrong.
 * - It cannot see a relay that has welded shut (an element that stays on is dry after the next drain), a
 *   seized pump, or an inlet valve that stays open. Feed the valve through a second valve, at the tap, that an
 *   overflow switch under the lip closes by itself: that is not optional either.
 * - Outputs must be off while the microcontroller resets, and a hardware watchdog must reset it when it
 *   hangs: a program that stands still leaves the outputs as they are.
 * - Hot water and steam scald. The lid switch belongs into the supply of pumps and element: what is read here
 *   (hook lid_shut) is a contact of its own in it, and does not stand for it.
 *
 * WHAT IT DOES
 * The table, phase by phase, with the pauses between them, as wash_timing.h says. What it has to know of the machine
 * (WASH_DRAIN_..., WASH_FILL_IS_COLD, WASH_SENSOR_MOVES_S, WASH_ELEMENT_REST_S) stands there too, and nowhere in here.
 *
 * No drain begins before the element has been off for WASH_ELEMENT_REST_S, nothing begins within WASH_GAP_S
 * of a motor's end: between two phases, and just so between two runs, however the first one ended.
 *
 * When something is wrong, the safe state: every output off at once; wait until the element has cooled in
 * its water, at least WASH_GAP_S; drain once for WASH_START_DRAIN_S; stay off, with the reason in
 * wash_t.error, until the next wash_start(). A bath that may be too hot for the drain pipe stays in, see below.
 * Five reasons differ:
 * - WASH_ERROR_OVERFLOW waits neither for the element nor for the bath.
 * - WASH_ERROR_TOO_HOT does not drain. If the element is on although it should be off, the water is all
 *   that keeps it from burning. Pull the plug, let it cool, find out why.
 * - WASH_ERROR_POWER_CUT and WASH_ERROR_LID_OPEN do not drain: nothing moves until a person starts it.
 * - WASH_ERROR_CLOCK_STOPPED waits for the clock: without one it stays off and does not drain.
 *
 * The clock. It has stopped if it shows the same on WASH_SAME_STEPS steps and one more, so within
 * WASH_SAME_STEPS / (steps a second) of the last tick. With the values below that are
 *     1,020 steps: 0.1 s at 10,000 steps a second, 2 s at 500, 10 s at 100, 102 s at 10.
 * A loop that is paced to 100 a second or less and says so in WASH_STEPS_MAX_PER_S needs 20 to 22 steps:
 *     0.2 s at 100 steps a second, 2 s at 10.
 * A clock that shows less than at the step before, or more than WASH_LATE_MS more, is WASH_ERROR_LATE. In
 * the safe state and between two runs such a step counts as no time at all, and so does the first one of a
 * clock that goes on, so that nothing begins sooner for it; for a pump that is on it counts as WASH_LATE_MS.
 *
 * After a power cut in a run nothing starts by itself: a pulled plug is a cut as well, and hands may be in
 * the tank. The water stays; the next wash_start() drains it. If the machine keeps the flag of the hooks
 * was_running and set_running, the reason is WASH_ERROR_POWER_CUT. Only if WASH_RESTART_AFTER_CUT in the
 * header is 1, and the flag is kept, does it begin again: wait until the element has cooled, drain for
 * WASH_START_DRAIN_S, round 1. Then hands must be kept out by a lid switch in the supply of pump and element.
 *
 * Where the float switch is read back (hook covered), every drain proves that it still opens. Its contacts carry
 * the element's current, or a contactor does: a small reed welds shut and is a guard no more.
 *
 * The lid, where its switch is read (hook lid_shut). While it is open no output is on, whatever the state. A run
 * is held (WASH_STATE_HELD): every output off in the step that sees it, the water stays in, and shutting the
 * lid starts nothing. wash_start() with the lid shut goes on: wait until the element has cooled, drain for
 * WASH_START_DRAIN_S, and all of that round anew, from its fill and with its detergent; part of a round would be
 * no round, and what stood has cooled. Held for longer than WASH_HELD_MAX_S the run ends (WASH_ERROR_LID_OPEN).
 * A run that was held is not the one that was proven: soil dries, ware and tank cool, so its doses are not proven
 * (wash_t.held). To have them proven, wash_stop() and start anew. A lid opened in the safe state ends that too,
 * without its drain. While the load stands the lid may be opened: nothing is on, nothing is held.
 *
 * A hot bath and the drain pipe. A round cools its bath before its drain, as was proven; one that reads more than
 * WASH_DRAIN_STOP_DC all the same (an element that stayed on, a tap shut before a top-up) is not drained: it ends the
 * run as WASH_ERROR_TOO_HOT. No bath of a sound run reads so much, so one that is a few kelvin too hot for the pipe
 * may read less and is drained: the pipe has to stand that (check --faults says how hot). Every other drain (at
 * a start, in the safe state, after wash_skip()) comes only if the bath reads WASH_DRAIN_MAX_DC or less, or the
 * machine has stood off for WASH_DRAIN_WAIT_S since a bath was last warmed (or since power-up, see below) and no
 * reading says otherwise. Until then wash_start() waits in WASH_STATE_COOL; the safe state
 * ends with the water in, and wash_view_t.hot says so. To empty the tank alone: wash_start(), and wash_stop() once
 * it drains. A sensor that was found stuck, or was lost, is not believed until the wait is over: WASH_DRAIN_WAIT_S
 * is long enough for what the element has added until it was found. A pulled plug forgets it: before you start
 * again read the bath with another thermometer, never a hand in it. One that has stuck unseen is believed:
 * it and the wait cannot both be asked of a machine that starts within hours. WASH_ERROR_OVERFLOW drains all
 * the same: hot water in the pipe is the lesser harm. Whoever has looked, with a thermometer and never by hand, and
 * found the tank empty, or its water cool enough, AND the ware in it no hotter than the file of the constants allows
 * after a power cut (cold water is sprayed on it next), says so by wash_tank_is_cool(): the wait is over, unless a
 * reading says otherwise. Open the lid away from your face.
 *
 * After power-up the tank counts as hot unless the memory says that it is cool (hooks was_cool and set_cool): a new
 * board may have come into a machine that stands hot. It is told "not cool" as a run begins that heats, or lets in a
 * hot feed, before its flag that it runs, and "cool" once the last such bath of the run is drained, or a wait is over.
 * So after a run that was done there is no wait, and a write that a cut has undone leaves the wait in. A run that
 * begins again by itself always waits. A memory that goes on saying "cool" is WASH_ERROR_MEMORY: no run begins.
 *
 * In a bench run the element is never on, and no switch has to have closed after a fill or opened after a
 * drain: phases of seconds neither fill the tank nor empty it.
 *
 * Without a float switch that is read back it cannot know that a timed fill brought no water. Without a
 * sensor it cannot know how hot the bath is.
 *
 * No allocation, no floating point, no recursion, no waiting, no global variables.
 */

#include "wash_controller.h"

#include <stddef.h>
#include <string.h>

#include "wash_timing.h"

/* 5: a header of one programme, 6: of several */
#if !defined(WASH_FORMAT) || (WASH_FORMAT != 5U && WASH_FORMAT != 6U)
#error "wash_timing.h and this controller are of two versions of scullion; write both anew: scullion constants PLAN --with-controller DIR"
#endif

/* What you may set for your machine, here or on the compiler's command line */

#ifndef WASH_FLOAT_OPENS_EMPTY
#define WASH_FLOAT_OPENS_EMPTY 1 /* 0: what a drain leaves keeps it closed; then nobody proves that it opens */
#endif
#ifndef WASH_READ_MAX_DC
/* [0.1 C] hottest it may read, 0: as the programme says; state it where a timed machine has a sensor */
#define WASH_READ_MAX_DC 0U
#endif
#ifndef WASH_LATE_MS
#define WASH_LATE_MS 2000UL /* [ms] longest time between two steps in a run */
#endif
#ifndef WASH_STEPS_MAX_PER_S
#define WASH_STEPS_MAX_PER_S 500000 /* most steps a second; if there are more, runs end with CLOCK_STOPPED */
#endif
#ifndef WASH_CLOCK_TICK_MS
#define WASH_CLOCK_TICK_MS 1 /* [ms] longest time between two ticks of the clock */
#endif
#ifndef WASH_LEVEL_STEADY_MS
#define WASH_LEVEL_STEADY_MS 500UL /* [ms] the level switch must stay closed so long */
#endif
#ifndef WASH_SENSOR_LOST_MS
#define WASH_SENSOR_LOST_MS 5000UL /* [ms] without a valid reading; the element is off from the first */
#endif
#ifndef WASH_READ_APART_DK
#define WASH_READ_APART_DK 20 /* [0.1 K] the sensor is read twice; further apart, the reading is not valid */
#endif
#ifndef WASH_HELD_MAX_S
#define WASH_HELD_MAX_S 600UL /* [s] the lid may hold a run so long, 0: an opened lid ends it */
#endif
#ifndef WASH_SENSOR_MOVES_DK
#define WASH_SENSOR_MOVES_DK 10 /* [0.1 K] by so much */
#endif

/* Readings that no bath can have [0.1 C] */
#define BATH_LOWEST_DC (-50)
#define BATH_HIGHEST_DC 1200

#ifndef WASH_PROGRAMMES
/* The header holds one programme: it becomes a table like those of a header of several */
struct wash_programme {
    const char *name;
    const wash_round_t *row;
    uint8_t bench_run;
    uint8_t rounds;
    uint16_t start_drain_s;
    uint16_t gap_s;
    uint16_t after_soak_s;
    uint16_t stand_s;
    uint16_t hysteresis_dk;
    uint16_t bath_max_dc;
    uint16_t fill_max_s;
    uint16_t drain_min_s;
    uint16_t element_max_s;
    uint32_t total_max_s;
    uint8_t restart_after_cut;
};

static const struct wash_programme wash_programmes[1] = {
    { WASH_BENCH_RUN ? "rehearsal" : "programme",
      wash_rounds,
      WASH_BENCH_RUN,
      WASH_ROUNDS,
      WASH_START_DRAIN_S,
      WASH_GAP_S,
      WASH_AFTER_SOAK_S,
      WASH_STAND_S,
      WASH_HYSTERESIS_DK,
      WASH_BATH_MAX_DC,
      WASH_FILL_MAX_S,
      WASH_DRAIN_MIN_S,
      WASH_ELEMENT_MAX_S,
      WASH_TOTAL_MAX_S,
      WASH_RESTART_AFTER_CUT },
};
#define WASH_PROGRAMMES 1U
#endif

/* A step late where the switch closes in the last moment, the time until it is steady, and a step late again */
#define FILL_SLACK_MS (2UL * WASH_LATE_MS + (WASH_FILL_BY_LEVEL ? WASH_LEVEL_STEADY_MS : 0UL))

/* Longest programme that may be: its milliseconds must fit into 32 bits [s] */
#define TOTAL_MOST_S 4000000UL

/* So many steps may show the same time: twice those of one tick, and 20 for a few that follow each other fast */
#define WASH_SAME_STEPS (20UL + 2UL * WASH_STEPS_MAX_PER_S * WASH_CLOCK_TICK_MS / 1000UL)
#if WASH_SAME_STEPS > 65534
#error "WASH_STEPS_MAX_PER_S, WASH_CLOCK_TICK_MS: step less often or take a finer clock; 16 bits count the steps"
#endif

static uint32_t ms(uint32_t seconds) { return seconds * 1000UL; }

static const wash_round_t *row_of(const wash_t *wash) { return &wash->programme->row[wash->round]; }

static uint32_t gap_ms(const wash_t *wash) { return ms(wash->programme->gap_s); }

/* After an element nothing may begin for so long */
static uint32_t rest_ms(const wash_t *wash)
{
    return gap_ms(wash) > ms(WASH_ELEMENT_REST_S) ? gap_ms(wash) : ms(WASH_ELEMENT_REST_S);
}

/* Hottest reading of a run [0.1 C]; 0: there is no such watchdog */
static uint16_t read_max_dc(const wash_t *wash)
{
    return (uint16_t)(WASH_READ_MAX_DC > 0U ? WASH_READ_MAX_DC : wash->programme->bath_max_dc);
}

/* What may make a bath too hot for the drain pipe */
#define WARMS (WASH_ON_ELEMENT | (WASH_FILL_IS_COLD ? 0 : WASH_ON_INLET))

static bool reads_hot(const wash_t *wash) { return wash->bath_valid && wash->bath_dc > (int16_t)WASH_DRAIN_MAX_DC; }

/* Whether the drain pipe stands what may be in the tank, whatever would have cooled it */
static bool drains_cool(const wash_t *wash)
{
    return !reads_hot(wash) && (wash->warm_ms == 0UL || (wash->bath_valid && !wash->doubted));
}

/* A drain has taken it, or takes what a round has cooled for it */
static void forget_bath(wash_t *wash)
{
    wash->warm_ms = 0UL;
    wash->warmed = false;
    wash->doubted = false;
}

static bool heated(const wash_round_t *row) { return row->heat_s > 0U || row->spray_element_s > 0U; }

static bool by_thermostat(const wash_round_t *row) { return WASH_HAS_THERMOSTAT && row->setpoint_dc > 0U; }

static bool in_run(const wash_t *wash)
{
    return (wash->state >= WASH_STATE_COOL && wash->state <= WASH_STATE_STAND) || wash->state == WASH_STATE_HELD;
}

/* Whether a run, from a round on, may make a bath too hot for the drain pipe */
static bool may_warm(const wash_t *wash, uint8_t round)
{
    for (; WASH_DRAIN_WAIT_S > 0UL && round < wash->programme->rounds; round++) {
        if (!WASH_FILL_IS_COLD || heated(&wash->programme->row[round])) {
            return true;
        }
    }
    return false;
}

static bool is_sound(const struct wash_programme *programme)
{
    return programme != NULL && programme->row != NULL && programme->rounds > 0U && programme->gap_s > 0U
           && programme->total_max_s <= TOTAL_MOST_S;
}

static bool has_hooks(const wash_hooks_t *hooks)
{
    return hooks != NULL && hooks->clock_ms != NULL && hooks->outputs != NULL
           && (!WASH_HAS_THERMOSTAT || hooks->bath != NULL) && (!WASH_FILL_BY_LEVEL || hooks->full != NULL)
           && (hooks->was_running == NULL) == (hooks->set_running == NULL)
           && (hooks->was_cool == NULL) == (hooks->set_cool == NULL)
           && (hooks->set_cool == NULL || hooks->set_running != NULL)
           && (hooks->lid_shut == NULL) == hooks->no_lid_switch;
}

static void note_running(const wash_t *wash, bool running)
{
    if (wash->hooks->set_running != NULL) {
        wash->hooks->set_running(wash->hooks->context, running);
    }
}

static void note_cool(wash_t *wash, bool cool)
{
    if (wash->hooks->set_cool != NULL && cool != wash->kept_cool) {
        wash->kept_cool = cool;
        wash->hooks->set_cool(wash->hooks->context, cool);
    }
}

/* Before a run: the tank may be hot from now on. False if the memory does not take it. */
static bool notes_hot(wash_t *wash)
{
    if (!may_warm(wash, 0U)) {
        return true;
    }
    note_cool(wash, false);
    return wash->hooks->was_cool == NULL || !wash->hooks->was_cool(wash->hooks->context);
}

/* Between two outputs, as memory may be slow: it is cool, and nothing of this run makes it hot any more */
static void note_if_cool(wash_t *wash)
{
    const bool goes_on = in_run(wash) && wash->state != WASH_STATE_STAND;
    if (wash->on == 0U && wash->warm_ms == 0UL && !reads_hot(wash)
        && !(goes_on && may_warm(wash, wash->round))) {
        note_cool(wash, true);
    }
}

static void enter(wash_t *wash, uint8_t state)
{
    wash->state = state;
    wash->state_ms = 0UL;
    wash->full_ms = 0UL;
    wash->calls_for_heat = true;
}

static void put_out(wash_t *wash, uint8_t on)
{
    if (((wash->on | on) & WASH_ON_ELEMENT) != 0) {
        wash->pause_ms = rest_ms(wash);
    } else if ((wash->on | on) != 0 && wash->pause_ms < gap_ms(wash)) {
        wash->pause_ms = gap_ms(wash);
    }
    /* The wash pump warms what is warm: the wait counts from its end too */
    if (((wash->on | on) & (WARMS | (wash->warmed ? WASH_ON_WASH_PUMP : 0))) != 0) {
        wash->warmed = true;
        wash->warm_ms = ms(WASH_DRAIN_WAIT_S);
    }
    wash->on = on;
    wash->hooks->outputs(wash->hooks->context, on);
}

/* Into the safe state: every output off first, then the flag, whose memory may be slow or full. Without the
   flag a run that went wrong does not begin again after a power cut. */
static void fail(wash_t *wash, uint8_t error)
{
    wash->error = error;
    wash->filled = false;
    wash->skips = false;
    /* One that was lost may come back and read cold: a loose contact */
    wash->doubted = wash->doubted || error == WASH_ERROR_SENSOR_STUCK || error == WASH_ERROR_SENSOR_LOST;
    enter(wash, WASH_STATE_SAFE_OFF);
    put_out(wash, 0U);
    note_running(wash, false);
}

/* The lid is open in a run: every output off, and no element before the next whole fill */
static void hold(wash_t *wash)
{
    if (wash->state != WASH_STATE_HELD) {
        wash->held = true;
        wash->filled = false;
        wash->skips = false;
        enter(wash, WASH_STATE_HELD);
    }
    put_out(wash, 0U);
}

/* Length of a phase as the table has it [s] */
static uint16_t length_s(const wash_t *wash, const wash_round_t *row, uint8_t phase)
{
    const uint16_t after_soak_s = wash->programme->after_soak_s;
    switch (phase) {
    case WASH_STATE_FILL:
        return row->fill_s;
    case WASH_STATE_HEAT:
        return row->heat_s;
    case WASH_STATE_SPRAY: /* up to the soak, where the round has one */
        return (uint16_t)(row->soak_s > 0U ? row->spray_s - after_soak_s : row->spray_s);
    case WASH_STATE_SOAK:
        return row->soak_s;
    case WASH_STATE_LAST_SPRAY:
        return (uint16_t)(row->soak_s > 0U ? after_soak_s : 0U);
    case WASH_STATE_REST:
        return row->rest_s;
    case WASH_STATE_TOP_UP:
        return row->top_up_s;
    case WASH_STATE_MIX:
        return row->mix_s;
    default:
        return row->drain_s;
    }
}

/* Into the pause before a phase, or past it where the table gives it no time; every round has a drain */
static void pause_before(wash_t *wash, uint8_t phase)
{
    while (length_s(wash, row_of(wash), phase) == 0U || (wash->skips && phase == WASH_STATE_HEAT)) {
        phase++;
    }
    if (phase == WASH_STATE_TOP_UP) {
        wash->fill_ms = 0UL; /* the inlet opens anew */
    }
    wash->next = phase;
    enter(wash, WASH_STATE_GAP);
}

/* Out of the pause into its phase. Detergent goes in as the spray begins: it would cake in a bath that stands. */
static void begin_phase(wash_t *wash)
{
    const uint16_t detergent_dg = row_of(wash)->detergent_dg;
    enter(wash, wash->next);
    if (wash->state == WASH_STATE_DRAIN) {
        forget_bath(wash);
    }
    if (wash->state == WASH_STATE_SPRAY && detergent_dg > 0U && wash->hooks->detergent != NULL) {
        wash->hooks->detergent(wash->hooks->context, detergent_dg);
    }
}

static void begin_round(wash_t *wash, uint8_t round)
{
    forget_bath(wash);
    wash->round = round;
    wash->filled = false;
    wash->skips = false;
    wash->fill_ms = 0UL;
    wash->element_ms = 0UL;
    pause_before(wash, WASH_STATE_FILL);
}

static void begin_run(wash_t *wash, uint8_t round)
{
    wash->error = WASH_OK;
    wash->round = round;
    wash->filled = false;
    wash->skips = false;
    wash->fill_ms = 0UL;
    wash->drained_ms = 0UL;
    wash->element_ms = 0UL;
    wash->total_ms = 0UL;
    wash->lost_ms = 0UL;
    wash->still_ms = 0UL;
    enter(wash, (uint8_t)(wash->pause_ms > 0UL || !drains_cool(wash) ? WASH_STATE_COOL : WASH_STATE_START_DRAIN));
    note_running(wash, true);
}

static bool clock_stopped(const wash_t *wash) { return wash->same_steps > WASH_SAME_STEPS; }

/* What a step took on the clock; right across 2^32, and after a jump back more than any step [ms] */
static uint32_t read_clock(wash_t *wash)
{
    const uint32_t now_ms = wash->hooks->clock_ms(wash->hooks->context);
    const uint32_t step_ms = now_ms - wash->clock_ms;
    wash->clock_ms = now_ms;
    if (step_ms > 0UL) {
        wash->same_steps = 0U;
    } else if (!clock_stopped(wash)) {
        wash->same_steps++;
    }
    return step_ms;
}

/* Add the time since the last step to whatever it was spent on; returns what the clock says it was [ms] */
static uint32_t tick(wash_t *wash)
{
    const bool stopped = clock_stopped(wash); /* if it goes on now, it may catch up what was no wait */
    const uint32_t clock_step_ms = read_clock(wash);
    const bool sure = !stopped && clock_step_ms <= WASH_LATE_MS;
    const uint32_t step_ms = sure ? clock_step_ms : WASH_LATE_MS; /* for what is on */
    const uint32_t wait_ms = sure ? clock_step_ms : 0UL;
    wash->state_ms += wash->on != 0U ? step_ms : wait_ms;
    wash->pause_ms = wash->pause_ms > wait_ms ? wash->pause_ms - wait_ms : 0UL;
    wash->warm_ms = wash->warm_ms > wait_ms ? wash->warm_ms - wait_ms : 0UL;
    if (wash->state != WASH_STATE_COOL && wash->state != WASH_STATE_HELD) {
        wash->total_ms += step_ms;
    }
    if ((wash->on & WASH_ON_INLET) != 0) {
        wash->fill_ms += step_ms;
        wash->drained_ms = 0UL;
    }
    if ((wash->on & WASH_ON_DRAIN_PUMP) != 0) {
        wash->drained_ms += step_ms;
    }
    if ((wash->on & WASH_ON_ELEMENT) != 0) {
        wash->element_ms += step_ms;
        wash->still_ms += step_ms;
    } else {
        wash->still_ms = 0UL;
    }
    return clock_step_ms;
}

/* One reading of the sensor: whether it can be true, and what it says */
static bool reading(const wash_t *wash, int16_t *dc)
{
    return wash->hooks->bath(wash->hooks->context, dc) && *dc >= BATH_LOWEST_DC && *dc <= BATH_HIGHEST_DC;
}

/* The sensor is read twice: a spike, or a value read while it changes, is none. The later reading counts. It is
   read outside a run too, for the person who sees it. */
static void read_bath(wash_t *wash, uint32_t step_ms)
{
    int16_t first_dc = 0, dc = 0;
    if (wash->hooks->bath == NULL) {
        return;
    }
    wash->bath_valid = reading(wash, &first_dc);
    wash->bath_valid = reading(wash, &dc) && wash->bath_valid && dc - first_dc <= WASH_READ_APART_DK
                       && first_dc - dc <= WASH_READ_APART_DK;
    if (!wash->bath_valid) {
        if (in_run(wash)) {
            wash->lost_ms += step_ms;
        }
        return;
    }
    wash->lost_ms = 0UL;
    wash->bath_dc = dc;
    if (wash->still_ms == 0UL || dc >= wash->moved_dc + WASH_SENSOR_MOVES_DK
        || dc <= wash->moved_dc - WASH_SENSOR_MOVES_DK) {
        wash->moved_dc = dc;
        wash->still_ms = 0UL;
    }
}

/* Every switch is read twice, and counts as what is safe: closed if both say so, an overflow if one does */
static bool covered(const wash_t *wash)
{
    return wash->hooks->covered == NULL
           || (wash->hooks->covered(wash->hooks->context) && wash->hooks->covered(wash->hooks->context));
}

static bool full(const wash_t *wash)
{
    return wash->hooks->full(wash->hooks->context) && wash->hooks->full(wash->hooks->context);
}

static bool overflows(const wash_t *wash)
{
    return wash->hooks->overflow != NULL
           && (wash->hooks->overflow(wash->hooks->context) || wash->hooks->overflow(wash->hooks->context));
}

/* Shut only if it says so twice */
static bool lid_opened(const wash_t *wash)
{
    return wash->hooks->lid_shut != NULL
           && !(wash->hooks->lid_shut(wash->hooks->context) && wash->hooks->lid_shut(wash->hooks->context));
}

/* What a switch says against a drain that is over: water is left, or the float switch cannot open any more */
static uint8_t watch_drained(const wash_t *wash)
{
    if (wash->programme->bench_run) {
        return WASH_OK;
    }
    if (WASH_FILL_BY_LEVEL && full(wash)) {
        return WASH_ERROR_NOT_DRAINED;
    }
    if (WASH_FLOAT_OPENS_EMPTY && wash->hooks->covered != NULL && covered(wash)) {
        return WASH_ERROR_FLOAT_CLOSED;
    }
    return WASH_OK;
}

/* What is wrong, whatever the phase; WASH_OK if nothing is. Boiling water keeps the sensor still. */
static uint8_t watch(const wash_t *wash, uint32_t step_ms)
{
    const wash_hooks_t *hooks = wash->hooks;
    const wash_round_t *row = row_of(wash);
    if (step_ms > WASH_LATE_MS) {
        return WASH_ERROR_LATE;
    }
    if (clock_stopped(wash)) {
        return WASH_ERROR_CLOCK_STOPPED;
    }
    if (overflows(wash)) {
        return WASH_ERROR_OVERFLOW;
    }
    if (wash->state == WASH_STATE_HELD && wash->state_ms > ms(WASH_HELD_MAX_S)) {
        return WASH_ERROR_LID_OPEN;
    }
    if (read_max_dc(wash) > 0U && wash->bath_valid && (int32_t)wash->bath_dc > (int32_t)read_max_dc(wash)) {
        return WASH_ERROR_TOO_HOT;
    }
    if (wash->lost_ms > WASH_SENSOR_LOST_MS) {
        return WASH_ERROR_SENSOR_LOST;
    }
    if (hooks->bath != NULL && row->kind != WASH_KIND_STEAM
        && wash->still_ms > ms(WASH_SENSOR_MOVES_S)) {
        return WASH_ERROR_SENSOR_STUCK;
    }
    if (wash->fill_ms > ms(wash->programme->fill_max_s) + FILL_SLACK_MS) {
        return WASH_ERROR_FILL_TIME;
    }
    if (wash->element_ms > ms((uint32_t)row->heat_s + row->spray_element_s) + 2UL * WASH_LATE_MS
        || wash->element_ms > ms(wash->programme->element_max_s) + 2UL * WASH_LATE_MS) {
        return WASH_ERROR_ELEMENT_TIME;
    }
    /* Up to 18 phases and pauses of a round, and 4 outside, overrun by a late step each */
    if (wash->total_ms > ms(wash->programme->total_max_s) + (18UL * wash->programme->rounds + 4UL) * WASH_LATE_MS) {
        return WASH_ERROR_TOTAL_TIME;
    }
    return WASH_OK;
}

static void end_fill(wash_t *wash)
{
    const wash_round_t *row = row_of(wash);
    if (heated(row) && !covered(wash)) {
        fail(wash, WASH_ERROR_NOT_FILLED);
        return;
    }
    wash->filled = true;
    pause_before(wash, WASH_STATE_HEAT);
}

static void fill_by_level(wash_t *wash, uint32_t step_ms)
{
    if (!full(wash)) {
        wash->full_ms = 0UL;
        if (wash->state_ms >= ms(row_of(wash)->fill_s)) {
            if (wash->programme->bench_run) {
                end_fill(wash);
            } else {
                fail(wash, WASH_ERROR_NOT_FILLED);
            }
        }
        return;
    }
    wash->full_ms = wash->full_ms == 0UL ? 1UL : wash->full_ms + step_ms; /* 1: seen closed, not for long */
    if (wash->full_ms > WASH_LEVEL_STEADY_MS) {
        end_fill(wash);
    }
}

static void end_drain(wash_t *wash)
{
    const uint8_t error = watch_drained(wash);
    if (error != WASH_OK) {
        fail(wash, error);
    } else if (wash->state == WASH_STATE_START_DRAIN) {
        begin_round(wash, wash->round); /* 0, or the one that the lid has ended */
    } else if (wash->round + 1U < wash->programme->rounds) {
        begin_round(wash, (uint8_t)(wash->round + 1U));
    } else {
        note_running(wash, false);
        wash->filled = false;
        enter(wash, WASH_STATE_STAND);
    }
}

static bool at_setpoint(const wash_t *wash)
{
    return by_thermostat(row_of(wash)) && wash->bath_valid
           && (int32_t)wash->bath_dc >= (int32_t)row_of(wash)->setpoint_dc;
}

/* After these the water stays in: it may be all that keeps the element from burning; hands may be in it, or it
   is too hot for the drain pipe */
static bool keeps_water(const wash_t *wash)
{
    return wash->error == WASH_ERROR_TOO_HOT || wash->error == WASH_ERROR_LID_OPEN
           || wash->error == WASH_ERROR_POWER_CUT || (wash->error != WASH_ERROR_OVERFLOW && !drains_cool(wash));
}

/* Go on if the state has lasted long enough */
static void advance(wash_t *wash, uint32_t step_ms)
{
    const wash_round_t *row = row_of(wash);
    const uint32_t lasted_ms = wash->state_ms;
    switch (wash->state) {
    case WASH_STATE_COOL:
        if (lasted_ms >= gap_ms(wash) && wash->pause_ms == 0UL && drains_cool(wash)) {
            enter(wash, WASH_STATE_START_DRAIN);
        }
        break;
    case WASH_STATE_START_DRAIN:
        if (lasted_ms >= ms(wash->programme->start_drain_s)) {
            end_drain(wash);
        }
        break;
    case WASH_STATE_GAP:
        if (lasted_ms < gap_ms(wash) || (wash->next == WASH_STATE_DRAIN && wash->pause_ms > 0UL)) {
            break;
        }
        if (wash->next == WASH_STATE_FILL && wash->drained_ms < ms(wash->programme->drain_min_s)) {
            fail(wash, WASH_ERROR_NOT_DRAINED);
        } else if (wash->next == WASH_STATE_DRAIN && wash->bath_valid && wash->bath_dc > (int16_t)WASH_DRAIN_STOP_DC) {
            fail(wash, WASH_ERROR_TOO_HOT);
        } else {
            begin_phase(wash);
        }
        break;
    case WASH_STATE_FILL:
        if (WASH_FILL_BY_LEVEL) {
            fill_by_level(wash, step_ms);
        } else if (lasted_ms >= ms(row->fill_s)) {
            end_fill(wash);
        }
        break;
    case WASH_STATE_HEAT:
    case WASH_STATE_SPRAY:
    case WASH_STATE_SOAK:
    case WASH_STATE_LAST_SPRAY:
    case WASH_STATE_REST:
    case WASH_STATE_TOP_UP:
    case WASH_STATE_MIX:
        if (lasted_ms >= ms(length_s(wash, row, wash->state))) {
            pause_before(wash, (uint8_t)(wash->state + 1U));
        }
        break;
    case WASH_STATE_DRAIN:
        if (lasted_ms >= ms(row->drain_s)) {
            end_drain(wash);
        }
        break;
    case WASH_STATE_STAND:
        if (lasted_ms >= ms(wash->programme->stand_s)) {
            enter(wash, WASH_STATE_IDLE);
        }
        break;
    case WASH_STATE_SAFE_OFF:
        if (lasted_ms >= gap_ms(wash) && (wash->pause_ms == 0UL || wash->error == WASH_ERROR_OVERFLOW)) {
            enter(wash, (uint8_t)(keeps_water(wash) ? WASH_STATE_IDLE : WASH_STATE_SAFE_DRAIN));
        }
        break;
    case WASH_STATE_SAFE_DRAIN:
        if (lasted_ms >= ms(wash->programme->start_drain_s) || clock_stopped(wash)) {
            enter(wash, WASH_STATE_IDLE);
        }
        break;
    default:
        break;
    }
    if (wash->state == WASH_STATE_HEAT && at_setpoint(wash)) {
        pause_before(wash, WASH_STATE_SPRAY);
    }
}

/* Whether the element is to be on, in a phase that may have it on for so long [s] */
static bool element(wash_t *wash, uint16_t longest_s)
{
    const wash_round_t *row = row_of(wash);
    if (!wash->filled || wash->skips || wash->state_ms >= ms(longest_s)) {
        return false;
    }
    if (wash->hooks->bath != NULL && !wash->bath_valid) {
        return false;
    }
    if (!by_thermostat(row)) {
        return true;
    }
    if (at_setpoint(wash)) {
        wash->calls_for_heat = false;
    } else if ((int32_t)wash->bath_dc <= (int32_t)row->setpoint_dc - (int32_t)wash->programme->hysteresis_dk) {
        wash->calls_for_heat = true;
    }
    return wash->calls_for_heat;
}

static uint8_t outputs(wash_t *wash)
{
    bool heats;
    switch (wash->state) {
    case WASH_STATE_START_DRAIN:
    case WASH_STATE_DRAIN:
    case WASH_STATE_SAFE_DRAIN:
        return WASH_ON_DRAIN_PUMP;
    case WASH_STATE_FILL:
    case WASH_STATE_TOP_UP:
        return WASH_ON_INLET;
    case WASH_STATE_HEAT:
        heats = element(wash, row_of(wash)->heat_s);
        return (uint8_t)(heats ? WASH_ON_ELEMENT : 0);
    case WASH_STATE_SPRAY:
        heats = element(wash, row_of(wash)->spray_element_s);
        return (uint8_t)(WASH_ON_WASH_PUMP + (heats ? WASH_ON_ELEMENT : 0));
    case WASH_STATE_LAST_SPRAY:
    case WASH_STATE_MIX:
        return WASH_ON_WASH_PUMP;
    default:
        return 0U;
    }
}

uint8_t wash_programme_count(void) { return (uint8_t)WASH_PROGRAMMES; }

const struct wash_programme *wash_programme(uint8_t number)
{
    return number < WASH_PROGRAMMES ? &wash_programmes[number] : NULL;
}

bool wash_init(wash_t *wash, const wash_hooks_t *hooks, const struct wash_programme *programme)
{
    bool cut, restarts;
    memset(wash, 0, sizeof *wash);
    wash->hooks = NULL;
    wash->programme = programme;
    if (!has_hooks(hooks) || !is_sound(programme)) {
        wash->error = has_hooks(hooks) ? WASH_ERROR_PROGRAMME : WASH_ERROR_HOOKS;
        return false;
    }
    wash->hooks = hooks;
    wash->clock_ms = hooks->clock_ms(hooks->context);
    put_out(wash, 0U);
    /* What ran before is not known: the element may be hot, a motor may have started a moment ago */
    wash->pause_ms = rest_ms(wash);
    cut = hooks->was_running != NULL && hooks->was_running(hooks->context);
    restarts = cut && programme->restart_after_cut;
    wash->kept_cool = hooks->was_cool != NULL && hooks->was_cool(hooks->context);
    /* The flag of a run that begins again is set already: nothing comes after "not cool" and keeps it */
    if (!wash->kept_cool || restarts) {
        wash->warm_ms = ms(WASH_DRAIN_WAIT_S);
    }
    if (restarts && notes_hot(wash)) {
        begin_run(wash, 0U);
    } else if (cut) {
        fail(wash, WASH_ERROR_POWER_CUT);
    }
    return true;
}

bool wash_choose(wash_t *wash, const struct wash_programme *programme)
{
    if (wash->hooks == NULL || wash->state != WASH_STATE_IDLE || !is_sound(programme)) {
        return false;
    }
    (void)tick(wash);
    if (programme != wash->programme) {
        wash->programme = programme;
        wash->round = 0U;
        /* Its pause may be longer than that of the one before it: whatever stopped a moment ago waits anew */
        if (wash->pause_ms < gap_ms(wash)) {
            wash->pause_ms = gap_ms(wash);
        }
    }
    return true;
}

bool wash_start(wash_t *wash)
{
    const bool goes_on = wash->state == WASH_STATE_HELD;
    if (wash->hooks == NULL || !(wash->state == WASH_STATE_IDLE || goes_on) || lid_opened(wash)) {
        return false;
    }
    (void)tick(wash);
    if (!goes_on && !notes_hot(wash)) {
        wash->error = WASH_ERROR_MEMORY;
        return false;
    }
    begin_run(wash, (uint8_t)(goes_on ? wash->round : 0U));
    wash->held = goes_on;
    wash->lid_open = false;
    if (!clock_stopped(wash)) {
        put_out(wash, outputs(wash)); /* at once: the drain lasts from here, and is counted from here */
    }
    return true;
}

uint8_t wash_step(wash_t *wash)
{
    uint8_t error = WASH_OK;
    uint8_t on;
    uint32_t step_ms;
    if (wash->hooks == NULL) {
        return WASH_STATE_IDLE;
    }
    step_ms = tick(wash);
    read_bath(wash, step_ms);
    wash->lid_open = lid_opened(wash);
    if (in_run(wash)) {
        error = watch(wash, step_ms);
    }
    if (error != WASH_OK) {
        fail(wash, error);
    } else if (wash->lid_open && in_run(wash) && wash->state != WASH_STATE_STAND) {
        hold(wash);
    } else {
        advance(wash, step_ms);
    }
    if (wash->lid_open && (wash->state == WASH_STATE_SAFE_OFF || wash->state == WASH_STATE_SAFE_DRAIN)) {
        enter(wash, WASH_STATE_IDLE); /* shutting it starts no drain */
    }
    on = outputs(wash);
    if ((on & WASH_ON_ELEMENT) != 0 && !covered(wash)) {
        fail(wash, WASH_ERROR_UNCOVERED);
        on = 0U;
    }
    put_out(wash, on);
    note_if_cool(wash);
    return wash->state;
}

void wash_stop(wash_t *wash)
{
    if (wash->hooks != NULL && in_run(wash)) {
        (void)tick(wash);
        fail(wash, WASH_ERROR_STOPPED);
    }
}

bool wash_tank_is_cool(wash_t *wash)
{
    const bool stands = wash->state <= WASH_STATE_COOL || wash->state == WASH_STATE_HELD;
    if (wash->hooks == NULL || !stands || reads_hot(wash)) {
        return false;
    }
    forget_bath(wash);
    return true;
}

/* Whether nothing has to cool what is drained; a bench run heats nothing */
static bool skips_to_drain(const wash_t *wash)
{
    return wash->programme->bench_run || (drains_cool(wash) && (wash->bath_valid || row_of(wash)->top_up_s == 0U));
}

bool wash_skip(wash_t *wash)
{
    const uint8_t phase = wash->state == WASH_STATE_GAP ? wash->next : wash->state;
    if (wash->hooks == NULL || !in_run(wash) || phase < WASH_STATE_FILL || phase >= WASH_STATE_DRAIN) {
        return false;
    }
    if (tick(wash) > WASH_LATE_MS) {
        fail(wash, WASH_ERROR_LATE);
        return false;
    }
    wash->lid_open = lid_opened(wash);
    if (wash->lid_open) {
        hold(wash);
        return false;
    }
    wash->skips = true;
    if (skips_to_drain(wash)) {
        pause_before(wash, WASH_STATE_DRAIN);
    } else if (phase == WASH_STATE_HEAT) {
        pause_before(wash, WASH_STATE_SPRAY);
    } /* else what is left of the round cools the bath: it goes on, the element off */
    put_out(wash, outputs(wash));
    return true;
}

/* Whole seconds, a part of one counted as one */
static uint32_t seconds(uint32_t time_ms) { return time_ms / 1000U + (time_ms % 1000U > 0U ? 1U : 0U); }

/* What is left of a phase of so many seconds [s] */
static uint32_t left_s(const wash_t *wash, uint32_t length)
{
    return ms(length) > wash->state_ms ? seconds(ms(length) - wash->state_ms) : 0UL;
}

/* The phases of a round from one on, at their longest, each with the pause before it [s] */
static uint32_t phases_s(const wash_t *wash, uint8_t round, uint8_t phase)
{
    uint32_t sum_s = 0UL;
    for (; phase <= WASH_STATE_DRAIN; phase++) {
        const uint16_t one_s = length_s(wash, &wash->programme->row[round], phase);
        if (one_s > 0U && !(wash->skips && round == wash->round && phase == WASH_STATE_HEAT)) {
            sum_s += (uint32_t)one_s + wash->programme->gap_s;
        }
    }
    return sum_s;
}

/* What is left of a wait with every output off: the pause, and until the element has cooled where that counts [s] */
static uint32_t wait_s(const wash_t *wash, bool cools)
{
    const uint32_t gap_s = left_s(wash, wash->programme->gap_s), cool_s = seconds(wash->pause_ms);
    return cools && cool_s > gap_s ? cool_s : gap_s;
}

/* What is left of the wait before a drain out of its turn: at its longest, a sensor may end it sooner [s] */
static uint32_t drain_wait_s(const wash_t *wash, uint32_t other_s)
{
    const uint32_t warm_s = drains_cool(wash) ? 0UL : seconds(wash->warm_ms);
    return warm_s > other_s ? warm_s : other_s;
}

static uint32_t later_rounds_s(const wash_t *wash, uint8_t round)
{
    uint32_t sum_s = wash->programme->stand_s;
    for (; round < wash->programme->rounds; round++) {
        sum_s += phases_s(wash, round, WASH_STATE_FILL);
    }
    return sum_s;
}

uint32_t wash_left_s(const wash_t *wash)
{
    const struct wash_programme *programme = wash->programme;
    const uint8_t state = wash->state;
    uint32_t waits_s;
    if (wash->hooks == NULL || state == WASH_STATE_IDLE) {
        return 0UL;
    }
    switch (state) {
    case WASH_STATE_HELD: /* if it goes on now */
        waits_s = wash->pause_ms > gap_ms(wash) || wash->pause_ms == 0UL ? seconds(wash->pause_ms) : programme->gap_s;
        return drain_wait_s(wash, waits_s) + programme->start_drain_s + later_rounds_s(wash, wash->round);
    case WASH_STATE_COOL:
        return drain_wait_s(wash, wait_s(wash, true)) + programme->start_drain_s + later_rounds_s(wash, wash->round);
    case WASH_STATE_START_DRAIN:
        return left_s(wash, programme->start_drain_s) + later_rounds_s(wash, wash->round);
    case WASH_STATE_GAP:
        return wait_s(wash, wash->next == WASH_STATE_DRAIN) + phases_s(wash, wash->round, wash->next)
               - programme->gap_s + later_rounds_s(wash, (uint8_t)(wash->round + 1U));
    case WASH_STATE_STAND:
        return left_s(wash, programme->stand_s);
    case WASH_STATE_SAFE_OFF:
        return wait_s(wash, wash->error != WASH_ERROR_OVERFLOW) + (keeps_water(wash) ? 0U : programme->start_drain_s);
    case WASH_STATE_SAFE_DRAIN:
        return left_s(wash, programme->start_drain_s);
    default:
        return left_s(wash, length_s(wash, row_of(wash), state)) + phases_s(wash, wash->round, (uint8_t)(state + 1U))
               + later_rounds_s(wash, (uint8_t)(wash->round + 1U));
    }
}

void wash_view(const wash_t *wash, wash_view_t *view)
{
    memset(view, 0, sizeof *view);
    view->name = is_sound(wash->programme) ? wash->programme->name : "";
    view->state = wash->state;
    view->error = wash->error;
    if (wash->hooks == NULL) {
        return;
    }
    view->left_s = wash_left_s(wash);
    if (in_run(wash) && wash->state != WASH_STATE_STAND) {
        view->round = (uint8_t)(wash->round + 1U);
        view->rounds_left = (uint8_t)(wash->programme->rounds - wash->round);
    }
    view->bath_valid = wash->hooks->bath != NULL && wash->bath_valid;
    view->bath_dc = wash->bath_dc;
    view->lid_open = wash->lid_open;
    view->held = wash->held;
    view->hot = (wash->state <= WASH_STATE_COOL || wash->state >= WASH_STATE_SAFE_OFF) && !drains_cool(wash);
}

char *wash_put_number(char *at, int32_t number, uint8_t after)
{
    char digits[12];
    uint8_t count = 0U;
    uint32_t rest = (uint32_t)number;
    if (number < 0) {
        *at++ = '-';
        rest = 0UL - rest;
    }
    do {
        digits[count++] = (char)('0' + rest % 10UL);
        rest /= 10UL;
    } while (rest > 0UL || count <= after);
    while (count > 0U) {
        if (count-- == after) {
            *at++ = '.';
        }
        *at++ = digits[count];
    }
    return at;
}

const char *wash_log_head(void) { return "time_s,state,round,inlet,element,wash_pump,drain_pump,bath_c,error"; }

/* A cell of a line, and what parts it from the next */
static char *put_cell(char *at, int32_t number, uint8_t after)
{
    at = wash_put_number(at, number, after);
    *at++ = ',';
    return at;
}

bool wash_log(wash_log_t *log, const wash_t *wash, uint32_t every_ms, char line[WASH_LOG_CHARS])
{
    const uint8_t round = (uint8_t)(in_run(wash) ? wash->round + 1U : 0U);
    const uint32_t step_ms = wash->clock_ms - log->clock_ms;
    const bool changed = log->state != wash->state || log->on != wash->on || log->round != round
                         || log->error != wash->error;
    uint8_t output;
    char *at = line;
    if (wash->hooks == NULL) {
        return false;
    }
    log->clock_ms = wash->clock_ms;
    if (log->begun) {
        log->s += step_ms / 1000UL;
        log->ms = (uint16_t)(log->ms + step_ms % 1000UL);
        if (log->ms >= 1000U) {
            log->ms = (uint16_t)(log->ms - 1000U);
            log->s++;
        }
        log->since_ms += step_ms;
        /* Two lines never have the same time: of two changes in a tick the later one is told, at the next */
        if (log->since_ms == 0UL || (!changed && log->since_ms < every_ms)) {
            return false;
        }
    }
    log->begun = true;
    log->since_ms = 0UL;
    log->state = wash->state;
    log->on = wash->on;
    log->round = round;
    log->error = wash->error;
    at = wash_put_number(at, (int32_t)(log->s & 0x7FFFFFFFUL), 0U);
    *at++ = '.';
    *at++ = (char)('0' + log->ms / 100U);
    *at++ = (char)('0' + log->ms / 10U % 10U);
    at = put_cell(at, log->ms % 10U, 0U);
    at = put_cell(at, wash->state, 0U);
    at = put_cell(at, round, 0U);
    for (output = WASH_ON_INLET; output <= WASH_ON_DRAIN_PUMP; output = (uint8_t)(output * 2U)) {
        at = put_cell(at, (wash->on & output) != 0, 0U);
    }
    if (in_run(wash) && wash->hooks->bath != NULL && wash->bath_valid) {
        at = wash_put_number(at, wash->bath_dc, 1U);
    }
    *at++ = ',';
    at = wash_put_number(at, wash->error, 0U);
    *at = '\0';
    return true;
}

#ifndef WASH_NO_TEXTS
const char *wash_state_text(uint8_t state)
{
    static const char *const texts[] = {
        "idle", "cooling first", "start drain", "pause", "fill", "heat", "spray", "soak", "last spray",
        "rest", "top-up", "mix", "drain", "stand", "safe: off", "safe: drain", "held by the lid",
    };
    return state < sizeof texts / sizeof texts[0] ? texts[state] : "?";
}

const char *wash_error_text(uint8_t error)
{
    static const char *const texts[] = {
        "ok", "stopped", "hooks do not fit", "power cut", "step too late", "not filled", "not drained",
        "float switch open", "overflow", "bath too hot", "sensor lost", "sensor stuck", "fill too long",
        "element too long", "run too long", "clock stopped", "float stays shut", "lid open too long",
        "no programme", "memory fails",
    };
    return error < sizeof texts / sizeof texts[0] ? texts[error] : "?";
}
#endif
