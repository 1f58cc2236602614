/*
 * The reference controller on random tables, with everything around it going wrong at random.
 *
 * Arguments: the first seed and how many. A seed is a table, the hooks, the pace of the loop and what goes
 * wrong. What must hold is watched from outside, in true time, which the controller does not see. Says which
 * seed broke what, and ends with 1; else prints how often each error was met, and how many runs were done.
 */

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "wash_controller.h"
#include "wash_timing.h"

enum { MOTORS = WASH_ON_INLET | WASH_ON_WASH_PUMP | WASH_ON_DRAIN_PUMP, ERRORS = WASH_ERROR_MEMORY + 1 };
#define APART_DC 21 /* further apart than two readings may be */
#define LATE_MS 2000U
#define STEADY_MS (any_shared.by_level ? 500U : 0U)
#define HELD_MAX_S 20U /* as compiled */
#define DRAIN_WAIT_S 15U /* as compiled */
#define DRAIN_MAX_DC 400
#define DRAIN_STOP_DC 495 /* as compiled */
/* What may make a bath too hot for the drain pipe; compiled for a cold feed and for a hot one */
#define WARMS (WASH_ON_ELEMENT | (WASH_FILL_IS_COLD ? 0 : WASH_ON_INLET))
#define SAME_STEPS 20U /* as compiled: at most 100 steps a second */
#define NEVER (-1000000000LL)

any_shared_t any_shared;
struct wash_programme any_programme[ANY_PROGRAMMES];
wash_round_t any_row[ANY_PROGRAMMES][ANY_ROUNDS];

/* Around the controller */
static struct {
    uint64_t random;
    unsigned long seed;
    long step;
    int64_t true_ms;
    uint32_t offset_ms, held_ms, mask_ms;
    bool held, powered, flag;
    bool cool, flag_before, cool_before; /* the other flag that is kept, and both before the last change */
    bool sticks;         /* of the tank the memory takes nothing */
    uint32_t read_ms;    /* what the clock showed last */
    uint32_t shown_ms;   /* how far it moved at this step */
    uint32_t same;       /* calls of the clock that showed the same */
    uint8_t on;
    bool sees_bath, sees_full, sees_covered, sees_overflow, sees_lid;
    bool bath_valid, said_valid, gone, full, covered, overflow, lid_open;
    int16_t bath_dc;
    /* Kept by the watch */
    int64_t up_ms, last_on_ms, motor_off_ms, element_off_ms, drained_ms;
    uint32_t inlet_ms, heated_ms, safe_drain_ms, state_ms;
    bool filled, overflowed, tops_up;
    uint32_t lost_ms, closed_ms, waited_ms, opened;
    int64_t warm_at_ms; /* when the bath that may be in the tank was last warmed, in true time */
    uint32_t warm_ms;   /* until it may be drained unread, by the clock that is shown */
    bool warm, warmed;  /* it was, and no drain has taken it; so since power-up */
    bool doubted;       /* the sensor was lost, and no drain has taken that bath: what it reads is no leave */
    bool known;         /* the memory says that it is cool, and nothing was warmed since */
    uint8_t doses, due;
    bool wanted_stop, calls_for_heat, told;
    /* One of two readings of a step says otherwise than the other */
    bool covered_once, full_once, overflow_once, lost_once, apart, lid_once;
    uint8_t second;         /* hooks read once in this step, a sum of 1, 2, 4, 8, 16 */
    bool skipped, skipping; /* wash_skip() in this round; it is being called */
    bool read_valid;        /* what the controller read last */
    int16_t read_dc;
    uint32_t skip_ms;       /* how far the clock moved as it was called, a part of this step */
} rig;

static wash_t wash;
static const struct wash_programme *chosen; /* what was asked for, whatever the controller holds */
static wash_hooks_t hooks;
static unsigned long met[ERRORS], done, started, steps_done, chosen_anew, skips_of_cool, skips_of_hot, holds, went_on;
static unsigned long kept_hot, drained_waited, told_cool, known_cool, lost_writes, drained_warm;

static uint32_t draw(void)
{
    rig.random = rig.random * 6364136223846793005ULL + 1442695040888963407ULL;
    return (uint32_t)((rig.random >> 33) ^ (rig.random >> 61));
}

static uint32_t between(uint32_t least, uint32_t most) { return least + draw() % (most - least + 1U); }

static bool chance(uint32_t in_100000) { return draw() % 100000U < in_100000; }

static void must(bool holds, const char *what)
{
    if (!holds) {
        printf("seed %lu, step %ld: %s (state %d, round %d, error %d, on %d, %lld ms)\n", rig.seed, rig.step, what,
               wash.state, wash.round, wash.error, rig.on, (long long)rig.true_ms);
        exit(1);
    }
}

static uint32_t shown(void)
{
    return rig.held ? rig.held_ms : (rig.offset_ms + (uint32_t)rig.true_ms) & rig.mask_ms;
}

static uint32_t clock_ms(void *context)
{
    const uint32_t now_ms = shown();
    const bool stopped = rig.same > SAME_STEPS;
    uint32_t counted_ms;
    (void)context;
    rig.shown_ms = now_ms - rig.read_ms;
    rig.same = rig.shown_ms == 0U ? rig.same + 1U : 0U;
    rig.read_ms = now_ms;
    counted_ms = rig.shown_ms > LATE_MS ? LATE_MS : rig.shown_ms;
    rig.waited_ms += rig.shown_ms > LATE_MS || stopped ? 0U : rig.shown_ms;
    counted_ms = rig.shown_ms > LATE_MS || stopped ? 0U : rig.shown_ms;
    rig.warm_ms = rig.warm_ms > counted_ms ? rig.warm_ms - counted_ms : 0U;
    counted_ms = rig.shown_ms > LATE_MS ? LATE_MS : rig.shown_ms;
    rig.state_ms += counted_ms;
    rig.inlet_ms += (rig.on & WASH_ON_INLET) != 0 ? counted_ms : 0U;
    rig.heated_ms += (rig.on & WASH_ON_ELEMENT) != 0 ? counted_ms : 0U;
    rig.safe_drain_ms = wash.state == WASH_STATE_SAFE_DRAIN ? rig.safe_drain_ms + counted_ms : 0U;
    return now_ms;
}

static bool is_second(uint8_t hook)
{
    rig.second ^= hook;
    return (rig.second & hook) == 0;
}

static bool bath(void *context, int16_t *bath_dc)
{
    const bool second = is_second(1);
    (void)context;
    *bath_dc = rig.bath_dc;
    if (rig.apart && !second) {
        *bath_dc = (int16_t)(rig.bath_dc > 0 ? rig.bath_dc - APART_DC : rig.bath_dc + APART_DC);
    }
    return rig.said_valid && (second || !rig.lost_once);
}

static bool full(void *context)
{
    (void)context;
    return rig.full || (rig.full_once && !is_second(2));
}

static bool covered(void *context)
{
    (void)context;
    return rig.covered || (rig.covered_once && !is_second(4));
}

static bool overflow(void *context)
{
    (void)context;
    return rig.overflow && (!rig.overflow_once || is_second(8));
}

/* Open if one of two readings says so */
static bool lid_shut(void *context)
{
    (void)context;
    return !(rig.lid_open && (!rig.lid_once || is_second(16)));
}

static bool was_running(void *context)
{
    (void)context;
    return rig.flag;
}

static void set_running(void *context, bool running)
{
    (void)context;
    must(running || wash.error == WASH_OK || rig.on == 0, "the flag is written before the outputs are off");
    if (running != rig.flag) {
        rig.flag_before = rig.flag;
        rig.cool_before = rig.cool;
    }
    rig.flag = running;
}

static bool was_cool(void *context)
{
    (void)context;
    return rig.cool;
}

static void set_cool(void *context, bool cool)
{
    (void)context;
    must(rig.on == 0, "the tank is noted while something is on");
    must(cool != rig.cool || rig.sticks, "what is kept of the tank is written again");
    must(!cool || !rig.warm || rig.true_ms - rig.warm_at_ms >= 1000LL * DRAIN_WAIT_S, "a tank that may be hot is noted as cool");
    must(!cool || !rig.read_valid || rig.read_dc <= DRAIN_MAX_DC, "a tank that reads hot is noted as cool");
    must(cool || wash.state == WASH_STATE_IDLE, "a tank is noted as hot, and no run begins");
    if (!rig.sticks) {
        rig.flag_before = rig.flag;
        rig.cool_before = rig.cool;
        rig.cool = cool;
    }
}

static void detergent(void *context, uint16_t detergent_dg)
{
    (void)context;
    must(wash.state == WASH_STATE_SPRAY, "detergent not as a spray begins");
    must((rig.on & MOTORS) == 0, "detergent after the pump has started");
    must(detergent_dg == chosen->row[wash.round].detergent_dg && detergent_dg > 0U, "another dose than the table's");
    must(rig.doses++ == 0U, "a second dose in one round");
}

/* A drain out of its turn: the drain pipe stands what a sound reading says, or what has stood long enough */
static void watch_hot_drain(void)
{
    const bool waited = !rig.warm || rig.true_ms - rig.warm_at_ms >= 1000LL * DRAIN_WAIT_S;
    must(!rig.read_valid || rig.read_dc <= DRAIN_MAX_DC, "a hot bath is drained");
    must((rig.read_valid && !rig.doubted) || waited, "a bath that may be hot is drained");
    drained_waited += !rig.read_valid && rig.warm;
}

/* What warms a bath, and what takes it */
static void watch_warm(uint8_t on)
{
    const uint8_t either = on | rig.on;
    const bool out_of_turn = wash.state != WASH_STATE_DRAIN && !rig.overflowed;
    if ((on & WASH_ON_DRAIN_PUMP) != 0 && (rig.on & WASH_ON_DRAIN_PUMP) == 0 && out_of_turn) {
        watch_hot_drain();
    }
    if ((on & WASH_ON_DRAIN_PUMP) != 0 && (rig.on & WASH_ON_DRAIN_PUMP) == 0 && wash.state == WASH_STATE_DRAIN) {
        must(!rig.read_valid || rig.read_dc <= DRAIN_STOP_DC, "a bath too hot for the pipe is drained in its turn");
        drained_warm += rig.read_valid && rig.read_dc > DRAIN_MAX_DC;
    }
    if ((either & WARMS) != 0 || (rig.warmed && (either & WASH_ON_WASH_PUMP) != 0)) {
        rig.warm_ms = 1000U * DRAIN_WAIT_S;
        rig.warmed = true;
        rig.known = false;
    }
    if ((either & WARMS) != 0 || (rig.warm && (either & WASH_ON_WASH_PUMP) != 0)) {
        rig.warm = true;
        rig.warm_at_ms = rig.true_ms;
    }
    if ((on & WASH_ON_DRAIN_PUMP) != 0 ? wash.state == WASH_STATE_DRAIN
                                       : (rig.on & WASH_ON_DRAIN_PUMP) != 0 && wash.state == WASH_STATE_GAP) {
        rig.warm = rig.warmed = rig.doubted = false;
        rig.warm_ms = 0U;
    }
}

/* Every change of the outputs passes here, whoever makes it */
static void outputs(void *context, uint8_t on)
{
    const uint8_t motors = on & MOTORS, were = rig.on & MOTORS;
    const wash_round_t *row = &chosen->row[wash.round];
    const int64_t gap_ms = 1000LL * chosen->gap_s, rest_ms = 1000LL * any_shared.element_rest_s;
    (void)context;
    must(on == 0 || !rig.sees_lid || !rig.lid_open, "an output is put on with the lid open");
    must(motors == 0 || motors == WASH_ON_INLET || motors == WASH_ON_WASH_PUMP || motors == WASH_ON_DRAIN_PUMP,
         "two motors at a time");
    must(were == 0 || motors == 0 || motors == were, "one motor takes over from another");
    must((on & WASH_ON_ELEMENT) == 0 || (motors & (WASH_ON_INLET | WASH_ON_DRAIN_PUMP)) == 0,
         "element with water coming or going");
    if (motors != 0 && were == 0) {
        must(rig.true_ms - rig.last_on_ms >= gap_ms, "a motor without the pause before it");
        must(rig.true_ms - rig.up_ms >= gap_ms, "a motor too soon after power-up");
    }
    if ((on & WASH_ON_ELEMENT) != 0) {
        must(rig.true_ms - rig.motor_off_ms >= gap_ms || were != 0, "an element without the pause before it");
        must(wash.state == WASH_STATE_HEAT || wash.state == WASH_STATE_SPRAY, "element outside heat and spray");
        must(wash.state != WASH_STATE_HEAT || row->heat_s > 0U, "element where the table has none");
        must(wash.state != WASH_STATE_SPRAY || row->spray_element_s > 0U, "element where the table has none");
        must(rig.filled, "element in a round without a whole fill");
        must(!rig.skipped, "element in a round that was skipped");
        must(!rig.sees_covered || rig.covered, "element uncovered");
        must(!rig.sees_bath || rig.bath_valid, "element without a reading");
        must(!rig.sees_bath || rig.bath_dc <= (int32_t)chosen->bath_max_dc, "element in a bath too hot");
        must(!rig.sees_overflow || !rig.overflow, "element in an overflow");
        must(!any_shared.thermostat || row->setpoint_dc == 0U || rig.bath_dc < (int32_t)row->setpoint_dc,
             "element above the setpoint");
    }
    if ((on & WASH_ON_DRAIN_PUMP) != 0 && were == 0 && !rig.overflowed) {
        must(rig.true_ms - rig.element_off_ms >= rest_ms, "a drain before the element has cooled");
        must(rig.true_ms - rig.up_ms >= rest_ms, "a drain too soon after power-up");
    }
    if ((on & WASH_ON_INLET) != 0 && were == 0) {
        rig.tops_up = wash.state == WASH_STATE_TOP_UP;
        rig.inlet_ms = 0U;
    }
    if ((on & WASH_ON_INLET) != 0 && were == 0 && !rig.tops_up) {
        must(rig.drained_ms >= 1000LL * chosen->drain_min_s, "a fill without a whole drain before it");
        must(wash.state == WASH_STATE_FILL, "inlet outside a fill");
        rig.inlet_ms = rig.heated_ms = 0U;
        rig.doses = 0U;
    }
    if ((on & WASH_ON_INLET) != 0) {
        rig.drained_ms = 0;
        rig.filled = rig.filled && rig.tops_up;
    }
    if (were == WASH_ON_INLET && motors == 0 && rig.tops_up) {
        must(wash.state != WASH_STATE_GAP || rig.skipping || rig.inlet_ms >= 1000U * row->top_up_s, "a top-up that ended too soon");
    }
    if (were == WASH_ON_INLET && motors == 0 && !rig.tops_up) {
        /* By level it may end at any time; else not before its time is over */
        rig.filled = wash.state == WASH_STATE_GAP && (any_shared.by_level ? rig.full : rig.inlet_ms >= 1000U * row->fill_s);
        rig.filled = rig.filled && !rig.skipping;
        must(wash.state != WASH_STATE_GAP || rig.skipping || rig.filled, "a fill that ended too soon");
    }
    watch_warm(on);
    if (rig.on != 0) {
        rig.last_on_ms = rig.true_ms;
    }
    if (were != 0) {
        rig.motor_off_ms = rig.true_ms;
    }
    if ((rig.on & WASH_ON_ELEMENT) != 0) {
        rig.element_off_ms = rig.true_ms;
    }
    rig.on = on;
    rig.told = true;
}

/* A table within the limits that a header asserts */
static void draw_programme(uint8_t number, uint32_t most_s)
{
    struct wash_programme *any = &any_programme[number];
    uint8_t n;
    memset(any, 0, sizeof *any);
    memset(any_row[number], 0, sizeof any_row[number]);
    any->name = "any";
    any->row = any_row[number];
    any->rounds = (uint8_t)between(1U, chance(5000) ? ANY_ROUNDS : 4U);
    any->gap_s = (uint16_t)between(1U, 4U);
    any->drain_min_s = (uint16_t)between(1U, 5U);
    any->after_soak_s = (uint16_t)(chance(50000) ? 0U : between(1U, most_s));
    any->start_drain_s = (uint16_t)between(any->drain_min_s, any->drain_min_s + most_s);
    any->stand_s = (uint16_t)(chance(50000) ? 0U : between(1U, most_s));
    any->hysteresis_dk = (uint16_t)between(1U, 30U);
    any->restart_after_cut = (uint8_t)chance(50000);
    any->bath_max_dc = (uint16_t)between(500U, 1000U);
    any->total_max_s = (uint32_t)any->start_drain_s + any->stand_s;
    for (n = 0U; n < any->rounds; n++) {
        wash_round_t *row = &any_row[number][n];
        uint32_t off_s, needed_s, gaps;
        row->kind = (uint8_t)between(WASH_KIND_PRERINSE, WASH_KIND_STEAM);
        row->fill_s = (uint16_t)between(1U, most_s);
        if (row->kind == WASH_KIND_STEAM) {
            row->heat_s = (uint16_t)between(1U, most_s);
        } else {
            row->heat_s = (uint16_t)(chance(50000) ? 0U : between(1U, most_s));
            row->spray_s = (uint16_t)between(1U, most_s);
            row->spray_element_s = (uint16_t)(chance(50000) ? 0U : between(1U, row->spray_s));
            if (any->after_soak_s > 0U && row->kind == WASH_KIND_WASH && chance(60000)) {
                row->soak_s = (uint16_t)between(1U, most_s);
                row->spray_s = (uint16_t)(row->spray_s + any->after_soak_s);
            }
        }
        if (any_shared.thermostat && row->kind != WASH_KIND_STEAM && row->heat_s + row->spray_element_s > 0) {
            row->setpoint_dc = (uint16_t)between(300U, any->bath_max_dc);
        }
        row->rest_s = (uint16_t)(chance(50000) ? 0U : between(1U, most_s));
        gaps = row->spray_s > 0U && row->spray_element_s == 0U ? 2U : 1U;
        if (row->heat_s + row->spray_element_s > 0) {
            off_s = row->spray_s + gaps * any->gap_s + (row->rest_s > 0U ? (uint32_t)row->rest_s + any->gap_s : 0U)
                    + (row->soak_s > 0U ? row->soak_s + 2U * any->gap_s : 0U);
            needed_s = (uint32_t)row->spray_element_s + any_shared.element_rest_s;
            if (off_s < needed_s) {
                row->rest_s = (uint16_t)(row->rest_s + needed_s - off_s);
            }
        }
        row->top_up_s = (uint16_t)(chance(50000) ? 0U : between(1U, most_s));
        row->mix_s = (uint16_t)(row->top_up_s == 0U || row->kind == WASH_KIND_STEAM || chance(50000)
                                    ? 0U : between(1U, most_s));
        row->drain_s = (uint16_t)between(any->drain_min_s, any->drain_min_s + most_s);
        row->detergent_dg = (uint16_t)(chance(50000) ? 0U : between(1U, 65535U));
        any->fill_max_s = row->fill_s > any->fill_max_s ? row->fill_s : any->fill_max_s;
        any->fill_max_s = row->top_up_s > any->fill_max_s ? row->top_up_s : any->fill_max_s;
        if (row->heat_s + row->spray_element_s > any->element_max_s) {
            any->element_max_s = (uint16_t)(row->heat_s + row->spray_element_s);
        }
        any->total_max_s += row->fill_s + row->heat_s + row->spray_s + row->soak_s + row->rest_s + row->drain_s;
        any->total_max_s += (uint32_t)row->top_up_s + row->mix_s;
        any->total_max_s += any->gap_s
                           * (2U + (row->heat_s > 0U) + (row->spray_s > 0U) + 2U * (row->soak_s > 0U)
                              + (row->rest_s > 0U) + (row->top_up_s > 0U) + (row->mix_s > 0U));
    }
}

static void draw_table(uint32_t most_s)
{
    uint8_t n;
    any_shared.programmes = (uint8_t)between(1U, ANY_PROGRAMMES);
    any_shared.by_level = chance(40000);
    any_shared.thermostat = chance(40000);
    any_shared.element_rest_s = (uint16_t)(chance(20000) ? 0U : between(1U, 2U * most_s));
    for (n = 0U; n < any_shared.programmes; n++) {
        draw_programme(n, most_s);
    }
    chosen = &any_programme[draw() % any_shared.programmes];
}

static void draw_hooks(void)
{
    memset(&hooks, 0, sizeof hooks);
    rig.cool = rig.cool_before = rig.sticks = false;
    rig.sees_bath = any_shared.thermostat || chance(60000);
    rig.sees_full = any_shared.by_level;
    rig.sees_covered = chance(60000);
    rig.sees_overflow = chance(60000);
    rig.sees_lid = chance(60000);
    hooks.clock_ms = clock_ms;
    hooks.outputs = outputs;
    hooks.bath = rig.sees_bath ? bath : NULL;
    hooks.full = rig.sees_full ? full : NULL;
    hooks.covered = rig.sees_covered ? covered : NULL;
    hooks.overflow = rig.sees_overflow ? overflow : NULL;
    hooks.lid_shut = rig.sees_lid ? lid_shut : NULL;
    hooks.no_lid_switch = !rig.sees_lid;
    hooks.detergent = chance(80000) ? detergent : NULL;
    if (chance(60000)) {
        hooks.was_running = was_running;
        hooks.set_running = set_running;
        if (chance(70000)) {
            hooks.was_cool = was_cool;
            hooks.set_cool = set_cool;
            rig.cool = rig.cool_before = chance(30000);
            rig.sticks = chance(5000);
        }
    }
}

/* Every error has its cause; a watchdog of the table's own never stops a sound controller */
static void watch_error(uint8_t state_before, uint8_t before)
{
    const uint8_t error = wash.error;
    if (error == before || error == WASH_OK) {
        return;
    }
    met[error]++;
    rig.doubted = rig.doubted || error == WASH_ERROR_SENSOR_LOST;
    must(error != WASH_ERROR_HOOKS && error != WASH_ERROR_POWER_CUT && error != WASH_ERROR_PROGRAMME,
         "an error that cannot be");
    must(error != WASH_ERROR_LID_OPEN || state_before == WASH_STATE_HELD, "held too long, and it was not held");
    /* A skip that comes between two late steps takes from the time that a level switch has to be steady */
    must((error != WASH_ERROR_FILL_TIME || (any_shared.by_level && rig.skipped)) && error != WASH_ERROR_ELEMENT_TIME
             && error != WASH_ERROR_TOTAL_TIME,
         "a watchdog of the table stops the table");
    must(error != WASH_ERROR_STOPPED || rig.wanted_stop, "stopped, and nobody did");
    must(error != WASH_ERROR_LATE || rig.shown_ms > LATE_MS, "late, and it was not");
    must(error != WASH_ERROR_CLOCK_STOPPED || rig.same > SAME_STEPS, "clock stopped, and it had not");
    must(error != WASH_ERROR_NOT_FILLED || (rig.sees_covered && !rig.covered) || (rig.sees_full && !rig.full),
         "not filled, and it was");
    must(error != WASH_ERROR_NOT_DRAINED || (rig.sees_full && rig.full), "not drained, and it was");
    must(error != WASH_ERROR_FLOAT_CLOSED || (rig.sees_covered && rig.covered), "float closed, and it was open");
    must(error != WASH_ERROR_UNCOVERED || (rig.sees_covered && !rig.covered), "uncovered, and it was not");
    must(error != WASH_ERROR_OVERFLOW || (rig.sees_overflow && rig.overflow), "overflow, and it was not");
    must(error != WASH_ERROR_TOO_HOT
             || (rig.sees_bath
                 && (rig.bath_dc > (int32_t)chosen->bath_max_dc
                     || (state_before == WASH_STATE_GAP && rig.due == WASH_STATE_DRAIN && rig.read_dc > DRAIN_STOP_DC))),
         "too hot, and it was not");
    must(error != WASH_ERROR_SENSOR_LOST || (rig.sees_bath && rig.lost_ms > 5000U), "lost, and it was not");
    must(error != WASH_ERROR_SENSOR_STUCK, "stuck: no phase here lasts so long");
}

/* Where a phase of the table leads to; a fill, a heat and the states outside the rounds are told apart by length */
static uint16_t length_s(const wash_round_t *row, uint8_t state)
{
    switch (state) {
    case WASH_STATE_START_DRAIN:
        return chosen->start_drain_s;
    case WASH_STATE_GAP:
        return chosen->gap_s;
    case WASH_STATE_FILL:
        return row->fill_s;
    case WASH_STATE_HEAT:
        return row->heat_s;
    case WASH_STATE_SPRAY:
        return (uint16_t)(row->spray_s - (row->soak_s > 0U ? chosen->after_soak_s : 0U));
    case WASH_STATE_SOAK:
        return row->soak_s;
    case WASH_STATE_LAST_SPRAY:
        return row->soak_s > 0U ? chosen->after_soak_s : 0U;
    case WASH_STATE_REST:
        return row->rest_s;
    case WASH_STATE_TOP_UP:
        return row->top_up_s;
    case WASH_STATE_MIX:
        return row->mix_s;
    case WASH_STATE_DRAIN:
        return row->drain_s;
    default:
        return chosen->stand_s;
    }
}

static bool wet(void) { return (rig.sees_full && rig.full) || (rig.sees_covered && rig.covered); }

/* The phases come in the order of the table, none too short, none longer than by the step that ends it */
static void watch_phase(uint8_t before, uint8_t round_before)
{
    const wash_round_t *row = &chosen->row[round_before];
    const uint32_t least_ms = 1000U * length_s(row, before);
    const bool sooner = (before == WASH_STATE_FILL && any_shared.by_level)
                        || (before == WASH_STATE_HEAT && any_shared.thermostat && row->setpoint_dc > 0U);
    const bool later = sooner || before == WASH_STATE_GAP;
    uint8_t due;
    if (before < WASH_STATE_START_DRAIN || before > WASH_STATE_STAND || wash.error != WASH_OK || rig.wanted_stop) {
        return;
    }
    if (wash.state == WASH_STATE_HELD) {
        return; /* watch_lid() */
    }
    must(later || rig.state_ms <= least_ms + rig.shown_ms + rig.skip_ms, "a phase too long");
    if (wash.state == before) {
        must(later || rig.state_ms < least_ms, "a phase goes on too long");
        return;
    }
    must(sooner || rig.state_ms >= least_ms, "a phase too short");
    must((before != WASH_STATE_DRAIN && before != WASH_STATE_START_DRAIN) || !wet(), "a wet drain goes by");
    must(before != WASH_STATE_FILL || !rig.sees_covered || rig.covered || row->heat_s + row->spray_element_s == 0,
         "a heated round goes on uncovered");
    must(before != WASH_STATE_FILL || !any_shared.by_level || rig.closed_ms >= 500U, "a level switch not yet steady");
    if (before == WASH_STATE_GAP) {
        must(wash.state != WASH_STATE_SPRAY || row->detergent_dg == 0U || hooks.detergent == NULL || rig.doses == 1U,
             "no detergent");
        /* A bath that is hot already is not heated: there the pause comes twice */
        must(wash.state == rig.due
                 || (rig.due == WASH_STATE_HEAT && any_shared.thermostat && row->setpoint_dc > 0U
                     && wash.state == WASH_STATE_SPRAY),
             "another phase than the table's next");
        return;
    }
    if (before == WASH_STATE_STAND) {
        must(wash.state == WASH_STATE_IDLE, "after the stand it is not idle");
        return;
    }
    if (before == WASH_STATE_DRAIN && round_before + 1 == chosen->rounds) {
        must(wash.state == WASH_STATE_STAND, "after the last drain it does not stand");
        return;
    }
    due = (uint8_t)(before == WASH_STATE_DRAIN || before == WASH_STATE_START_DRAIN ? WASH_STATE_FILL : before + 1);
    while (length_s(row, due) == 0U || (rig.skipped && due == WASH_STATE_HEAT)) {
        due++;
    }
    must(wash.state == WASH_STATE_GAP, "a phase without the pause before it");
    must(wash.round == (before == WASH_STATE_DRAIN ? round_before + 1 : round_before), "another round");
    rig.due = due;
}

/* The element is on whenever the table, the sensor and the float switch have it on, and then alone */
static void watch_element(uint8_t before)
{
    const wash_round_t *row = &chosen->row[wash.round];
    const bool heat = wash.state == WASH_STATE_HEAT, spray = wash.state == WASH_STATE_SPRAY;
    const uint32_t longest_ms = 1000U * (heat ? row->heat_s : row->spray_element_s);
    const uint32_t lasted_ms = wash.state == before ? rig.state_ms : 0U;
    bool due = (heat || spray) && !rig.skipped && lasted_ms < longest_ms && (!rig.sees_bath || rig.bath_valid);
    rig.calls_for_heat = rig.calls_for_heat || wash.state != before;
    if (due && any_shared.thermostat && row->setpoint_dc > 0U) {
        if (rig.bath_dc >= (int32_t)row->setpoint_dc) {
            rig.calls_for_heat = false;
        } else if (rig.bath_dc <= (int32_t)row->setpoint_dc - (int32_t)chosen->hysteresis_dk) {
            rig.calls_for_heat = true;
        }
        due = rig.calls_for_heat;
    }
    must(due == ((rig.on & WASH_ON_ELEMENT) != 0), "the element is not as it should be");
    must((spray || wash.state == WASH_STATE_LAST_SPRAY || wash.state == WASH_STATE_MIX) == ((rig.on & WASH_ON_WASH_PUMP) != 0),
         "the wash pump is not as it should be");
    must((wash.state == WASH_STATE_FILL || wash.state == WASH_STATE_TOP_UP) == ((rig.on & WASH_ON_INLET) != 0), "the inlet is not as it should be");
    must((wash.state == WASH_STATE_DRAIN || wash.state == WASH_STATE_START_DRAIN
          || wash.state == WASH_STATE_SAFE_DRAIN) == ((rig.on & WASH_ON_DRAIN_PUMP) != 0),
         "the drain pump is not as it should be");
}

/* The lid holds a run, keeps all off, and lets go of it by a start alone */
static void watch_lid(uint8_t before, uint8_t round_before)
{
    const bool open = rig.sees_lid && rig.lid_open;
    must(!open || rig.on == 0, "an output on with the lid open");
    must(wash.lid_open == open, "the lid is not seen");
    must(!open || wash.state == WASH_STATE_IDLE || wash.state == WASH_STATE_STAND || wash.state == WASH_STATE_HELD,
         "it goes on with the lid open");
    must(before != WASH_STATE_HELD || wash.state == WASH_STATE_HELD || wash.error != WASH_OK, "shutting the lid starts it");
    must(before != WASH_STATE_HELD || wash.state != WASH_STATE_HELD || rig.waited_ms <= 1000U * HELD_MAX_S,
         "held for ever");
    must(before != WASH_STATE_HELD || wash.error != WASH_ERROR_LID_OPEN || rig.waited_ms > 1000U * HELD_MAX_S,
         "held too long, and it was not");
    if (wash.state == WASH_STATE_HELD) {
        must(before == WASH_STATE_HELD || open, "held, and the lid is shut");
        must(before != WASH_STATE_STAND && before != WASH_STATE_IDLE, "held outside the rounds");
        must(wash.round == round_before && wash.held, "the lid loses the round");
        holds += before != WASH_STATE_HELD;
        rig.filled = rig.skipped = false;
    }
}

/* Waits come to an end, as soon as they may */
static void watch_wait(uint8_t before, uint8_t error_before)
{
    uint32_t gap_ms = 0U, rest_ms = 1000U * any_shared.element_rest_s, cool_ms;
    uint8_t n;
    for (n = 0U; n < any_shared.programmes; n++) { /* the pause of the programme before it may be longer */
        gap_ms = 1000U * any_programme[n].gap_s > gap_ms ? 1000U * any_programme[n].gap_s : gap_ms;
    }
    rest_ms = rest_ms > gap_ms ? rest_ms : gap_ms;
    if (wash.state != before || wash.error != error_before) {
        return;
    }
    cool_ms = (rig.read_valid && !rig.doubted) || rig.known || 1000U * DRAIN_WAIT_S < rest_ms ? rest_ms : 1000U * DRAIN_WAIT_S;
    must(before != WASH_STATE_COOL || rig.waited_ms < cool_ms || (rig.read_valid && rig.read_dc > DRAIN_MAX_DC),
         "it cools for ever");
    must(before != WASH_STATE_SAFE_OFF || wash.error == WASH_ERROR_OVERFLOW || rig.waited_ms < rest_ms,
         "it is off for ever");
    must(before != WASH_STATE_SAFE_OFF || wash.error != WASH_ERROR_OVERFLOW || rig.waited_ms < gap_ms,
         "it does not drain an overflow");
}

static bool in_run(uint8_t state)
{
    return (state >= WASH_STATE_COOL && state <= WASH_STATE_STAND) || state == WASH_STATE_HELD;
}

static void watch_step(uint8_t state_before, uint8_t error_before)
{
    const wash_round_t *row = &chosen->row[wash.round];
    watch_error(state_before, error_before);
    rig.overflowed = wash.error == WASH_ERROR_OVERFLOW;
    must(rig.same <= SAME_STEPS + 1U || rig.on == 0, "an output on although the clock has stopped");
    if (in_run(state_before)) {
        must(rig.shown_ms <= LATE_MS || (rig.on == 0 && wash.error == WASH_ERROR_LATE), "a jump went by unseen");
        must(rig.lost_ms <= 5000U || wash.error != WASH_OK, "a sensor is lost and it goes on");
        must(!rig.sees_overflow || !rig.overflow || rig.on == 0, "an output on in an overflow");
        must(!rig.sees_bath || !rig.bath_valid || rig.bath_dc <= (int32_t)chosen->bath_max_dc || rig.on == 0,
             "an output on in a bath too hot");
    }
    must(wash.error == WASH_OK || wash.state >= WASH_STATE_SAFE_OFF || wash.state == WASH_STATE_IDLE,
         "it goes on with an error");
    must(wash.state != WASH_STATE_SAFE_OFF || rig.on == 0, "an output on in the safe state");
    must(wash.error != WASH_ERROR_POWER_CUT || rig.on == 0, "something moves by itself after a power cut");
    must(rig.inlet_ms <= 1000U * (rig.tops_up ? row->top_up_s : row->fill_s) + 2U * LATE_MS + STEADY_MS
             || (rig.on & WASH_ON_INLET) == 0,
         "inlet open too long");
    must(rig.heated_ms <= 1000U * (row->heat_s + row->spray_element_s) + 2U * LATE_MS
             || (rig.on & WASH_ON_ELEMENT) == 0, "element on too long");
    must(rig.safe_drain_ms <= 1000U * chosen->start_drain_s + LATE_MS || wash.state != WASH_STATE_SAFE_DRAIN,
         "the safe drain takes too long");
    must(hooks.set_running == NULL || rig.flag == (in_run(wash.state) && wash.state != WASH_STATE_STAND),
         "the flag says otherwise");
    if (state_before == WASH_STATE_STAND && wash.state == WASH_STATE_IDLE) {
        done++;
    }
}

/* What a person sees is what there is: no old reading, no round that is over, no time that grows */
static void watch_view(uint8_t state_before, uint8_t error_before, uint32_t left_before_s)
{
    const bool of_round = in_run(wash.state) && wash.state != WASH_STATE_STAND;
    const bool in_turn = wash.state >= WASH_STATE_START_DRAIN && wash.state <= WASH_STATE_STAND;
    const bool reads_hot = rig.read_valid && rig.read_dc > DRAIN_MAX_DC;
    const bool hot = reads_hot || ((!rig.read_valid || rig.doubted) && rig.warm_ms > 0U);
    wash_view_t view;
    wash_view(&wash, &view);
    must(view.name == chosen->name && view.state == wash.state && view.error == wash.error, "a view of another run");
    must(view.bath_valid == (rig.sees_bath && rig.bath_valid), "a reading is shown that is none, or none that is one");
    must(!view.bath_valid || view.bath_dc == rig.bath_dc, "an old reading is shown");
    must(view.round == (of_round ? wash.round + 1 : 0), "another round is shown");
    must(view.rounds_left == (of_round ? chosen->rounds - wash.round : 0), "other rounds left are shown");
    must(view.hot == (hot && !in_turn), "hot water is not told, or cold is told as hot");
    kept_hot += view.hot && wash.state == WASH_STATE_IDLE && state_before == WASH_STATE_SAFE_OFF;
    must(wash.state != WASH_STATE_IDLE || view.left_s == 0U, "time is left while it is idle");
    must(!in_run(state_before) || !in_run(wash.state) || error_before != wash.error
             || (wash.state == WASH_STATE_HELD && state_before != wash.state) || view.hot
             || view.left_s <= left_before_s + LATE_MS / 1000U, "the time left grows");
}

static void pass(uint32_t ms)
{
    rig.true_ms += ms;
    rig.drained_ms += (rig.on & WASH_ON_DRAIN_PUMP) != 0 ? ms : 0U;
}

static bool heats(const struct wash_programme *any)
{
    uint8_t n;
    for (n = 0U; n < any->rounds; n++) {
        if (!WASH_FILL_IS_COLD || any->row[n].heat_s + any->row[n].spray_element_s > 0) {
            return true;
        }
    }
    return false;
}

static void power_up(void)
{
    bool cut, restarts;
    memset(&wash, (int)(draw() & 255U), sizeof wash);
    rig.powered = true;
    rig.on = 0;
    rig.up_ms = rig.true_ms;
    rig.held = false;
    rig.offset_ms = draw();
    if (chance(30000)) { /* it turns over, or its sign bit turns, in the first run */
        rig.offset_ms = (chance(50000) ? 0U : 0x80000000U) - (uint32_t)rig.true_ms - between(0U, 200000U);
    }
    rig.read_ms = shown();
    rig.same = 0U;
    rig.state_ms = 0U;
    rig.filled = false;
    rig.overflowed = false;
    if (hooks.set_running == NULL) {
        rig.flag = false;
    }
    rig.told = false;
    rig.lost_ms = rig.waited_ms = 0U;
    rig.skipped = rig.read_valid = false;
    rig.warmed = rig.doubted = false;
    /* Of a store that loses its last write, or cannot be read, the tank is what it is */
    if (rig.flag_before != rig.flag || rig.cool_before != rig.cool) {
        if (chance(30000)) {
            rig.flag = rig.flag_before;
            rig.cool = rig.cool_before;
            lost_writes++;
        }
    }
    rig.cool = rig.cool && !chance(3000);
    rig.flag_before = rig.flag;
    rig.cool_before = rig.cool;
    cut = rig.flag;
    rig.known = hooks.set_cool != NULL && rig.cool && !(cut && chosen->restart_after_cut);
    known_cool += rig.known;
    rig.warm_ms = rig.known ? 0U : 1000U * DRAIN_WAIT_S;
    if (hooks.set_cool == NULL || !rig.cool) { /* else it is what it was: warm, warm_at_ms */
        rig.warm = true;
        rig.warm_at_ms = rig.true_ms;
    }
    must(wash_init(&wash, &hooks, chosen), "no start although every hook is there");
    must(rig.told && rig.on == 0, "outputs not switched off at power-up");
    restarts = chosen->restart_after_cut && !(rig.sticks && rig.cool && heats(chosen));
    must(wash.state == (!cut ? WASH_STATE_IDLE : restarts ? WASH_STATE_COOL : WASH_STATE_SAFE_OFF),
         "another beginning after power-up");
    must((wash.error == WASH_ERROR_POWER_CUT) == (cut && !restarts), "another reason after power-up");
    met[WASH_ERROR_POWER_CUT] += wash.error == WASH_ERROR_POWER_CUT;
}

static void cut_power(void)
{
    if ((rig.on & WARMS) != 0 || (rig.warm && (rig.on & WASH_ON_WASH_PUMP) != 0)) {
        rig.warm_at_ms = rig.true_ms;
    }
    if (rig.on != 0) {
        rig.last_on_ms = rig.true_ms;
        rig.motor_off_ms = (rig.on & MOTORS) != 0 ? rig.true_ms : rig.motor_off_ms;
        rig.element_off_ms = (rig.on & WASH_ON_ELEMENT) != 0 ? rig.true_ms : rig.element_off_ms;
    }
    rig.on = 0;
    rig.true_ms += between(1U, 5000U);
    power_up();
}

static void jump(uint32_t next_ms)
{
    static const uint32_t edges_ms[] = {2001U, 65535U, 65536U, 0x7FFFFFFFU, 0x80000000U, 0xFFFF0000U, 0xFFFFFFFFU};
    uint32_t by_ms = chance(50000) ? edges_ms[between(0U, 6U)] : draw() * 2U + between(0U, 1U);
    /* Seen from the next step it must be one: back by less than a step took, or ahead by little, is none */
    if (by_ms + next_ms <= LATE_MS || by_ms < LATE_MS) {
        by_ms = 0U - next_ms - 1U;
    }
    rig.offset_ms = shown() - (uint32_t)rig.true_ms + by_ms;
    rig.held = false;
}

static void sensors(uint32_t wrong)
{
    rig.full = (wash.state == WASH_STATE_FILL && rig.inlet_ms > 500U) != chance(wrong);
    rig.covered = ((rig.on & WASH_ON_DRAIN_PUMP) == 0) != chance(wrong);
    rig.overflow = chance(wrong);
    rig.lid_open = rig.lid_open ? !chance(20000) : chance(rig.opened);
    rig.lid_once = chance(30000);
    rig.overflow_once = chance(30000);
    rig.full_once = chance(wrong);
    rig.covered_once = chance(wrong);
    rig.second = 0U;
    rig.bath_dc = (int16_t)(chance(wrong) ? (int32_t)between(0U, 65535U) - 32768 : (int32_t)between(150U, 499U));
    if (chance(wrong) && any_shared.thermostat) { /* about the edges of the thermostat */
        rig.bath_dc = (int16_t)(chosen->row[wash.round].setpoint_dc - (chance(50000) ? 0 : chosen->hysteresis_dk)
                                + (int32_t)between(0U, 2U) - 1);
    }
    rig.gone = chance(wrong / 2U) ? !rig.gone : rig.gone && !chance(10000);
    rig.bath_valid = !rig.gone && !chance(wrong);
    rig.said_valid = rig.bath_valid;
    rig.apart = chance(wrong);
    rig.lost_once = chance(wrong);
    rig.bath_valid = rig.bath_valid && !rig.apart && !rig.lost_once && rig.bath_dc >= -50 && rig.bath_dc <= 1200;
}

/* Another programme is taken between two runs, and never in one */
static void choose(uint8_t state)
{
    const struct wash_programme *wanted = &any_programme[draw() % any_shared.programmes];
    const bool took = wash_choose(&wash, wanted);
    must(took == (state == WASH_STATE_IDLE && wash.state == state), "a programme changes at the wrong time");
    chosen_anew += took && wanted != chosen;
    chosen = took ? wanted : chosen;
    must(wash.programme == chosen, "another programme than the chosen one");
    must(!wash_choose(&wash, NULL), "no programme is a programme");
}

/* The rest of a round is left out: what cools the bath only where it is known to be cool */
static void skip(uint8_t state)
{
    const wash_round_t *row = &chosen->row[wash.round];
    const uint8_t phase = state == WASH_STATE_GAP ? wash.next : state;
    const bool may = in_run(wash.state) && phase >= WASH_STATE_FILL && phase < WASH_STATE_DRAIN;
    const uint8_t before = wash.state;
    bool took, cool;
    rig.skipping = may;
    rig.skipped = rig.skipped || may;
    took = wash_skip(&wash);
    cool = rig.read_valid ? rig.read_dc <= DRAIN_MAX_DC : rig.warm_ms == 0U && row->top_up_s == 0U;
    rig.skipping = false;
    rig.skip_ms = may ? rig.shown_ms : 0U;
    if (may && rig.shown_ms > LATE_MS) {
        must(!took && rig.on == 0 && wash.error == WASH_ERROR_LATE, "a skip hides a jump");
        rig.state_ms = rig.waited_ms = 0U;
        met[WASH_ERROR_LATE]++;
        return;
    }
    if (may && rig.sees_lid && rig.lid_open) {
        must(!took && rig.on == 0 && wash.state == WASH_STATE_HELD, "a skip with the lid open");
        holds += before != WASH_STATE_HELD;
        rig.filled = rig.skipped = false;
        rig.state_ms = rig.waited_ms = 0U;
        return;
    }
    must(took == may, "a skip at the wrong time");
    if (!may) {
        return;
    }
    if (cool) {
        rig.due = WASH_STATE_DRAIN;
        must(wash.state == WASH_STATE_GAP && wash.next == WASH_STATE_DRAIN, "a skip that does not drain");
        skips_of_cool++;
    } else if (phase == WASH_STATE_HEAT) {
        for (rig.due = WASH_STATE_SPRAY; length_s(row, rig.due) == 0U; rig.due++) {
        }
        must(wash.state == WASH_STATE_GAP, "a skip that goes on heating");
    } else {
        must(wash.state == before, "a skip that leaves out what cools");
        skips_of_hot++;
    }
    rig.state_ms = wash.state != before || cool || phase == WASH_STATE_HEAT ? 0U : rig.state_ms;
}

/* Somebody has looked, and says that the tank is empty or its water cool enough */
static void tank_is_cool(void)
{
    const bool stands = wash.state <= WASH_STATE_COOL || wash.state == WASH_STATE_HELD;
    const bool may = stands && !(rig.read_valid && rig.read_dc > DRAIN_MAX_DC);
    must(wash_tank_is_cool(&wash) == may, "a word is taken against a reading, or out of time, or not taken");
    if (may) {
        rig.warm_ms = 0U;
        rig.warm = rig.warmed = rig.doubted = false;
        told_cool++;
    }
}

static void try_seed(unsigned long seed)
{
    static const uint32_t paces_ms[] = {5U, 50U, 300U, 1000U, 1990U, 100U, 500U, 1000U, 2000U};
    bool steady, closed = false;
    uint32_t wrong, upset, clock_upset, pace_ms, steps;
    memset(&rig, 0, sizeof rig);
    rig.seed = seed;
    rig.random = seed * 0x9E3779B97F4A7C15ULL + 1U;
    (void)draw();
    pace_ms = between(0U, 8U);
    steady = pace_ms > 4U;
    pace_ms = paces_ms[pace_ms];
    draw_table(pace_ms < 50U ? 3U : 12U);
    draw_hooks();
    wrong = chance(40000) ? 0U : between(1U, chance(20000) ? 20000U : 200U);
    upset = chance(40000) ? 0U : between(1U, 600U);
    rig.opened = chance(40000) ? 0U : between(1U, chance(20000) ? 20000U : 400U);
    clock_upset = chance(40000) ? 0U : between(1U, 600U);
    steps = between(300U, 3000U);
    rig.mask_ms = UINT32_MAX;
    if (clock_upset > 0U && chance(10000)) {
        rig.mask_ms = 0xFFFFU; /* a clock of 16 bits that was taken for one of 32 */
    }
    if (chance(300)) { /* phases of hours */
        draw_table(20000U);
        draw_hooks();
        pace_ms = 1999U;
        steps = 40000U;
        wrong = upset = clock_upset = rig.opened = 0U;
        rig.mask_ms = UINT32_MAX;
    }
    rig.last_on_ms = rig.motor_off_ms = rig.element_off_ms = NEVER;
    rig.true_ms = (int64_t)between(0U, 100000U);
    power_up();
    for (rig.step = 0; rig.step < (long)steps; rig.step++) {
        uint32_t ms = chance(1000) ? 0U : steady ? pace_ms : between(1U, pace_ms);
        uint8_t state, error, number;
        uint32_t left_s;
        bool presses, begins;
        if (chance(clock_upset)) {
            ms = between(1U, 30000U);
        }
        if (rig.mask_ms == UINT32_MAX && chance(clock_upset / 4U)) {
            jump(ms);
        }
        if (rig.held ? chance(2000) : chance(clock_upset / 2U)) {
            rig.held_ms = shown();
            if (rig.held && (rig.same <= SAME_STEPS || chance(50000))) {
                rig.offset_ms = rig.held_ms - (uint32_t)rig.true_ms; /* it goes on where it stood */
            }
            rig.held = !rig.held;
        }
        if (chance(upset)) {
            cut_power();
            continue;
        }
        pass(ms);
        sensors(wrong);
        rig.wanted_stop = chance(upset);
        state = wash.state;
        error = wash.error;
        number = wash.round;
        if (rig.wanted_stop) {
            wash_stop(&wash);
            must(!in_run(state) || (rig.on == 0 && wash.state == WASH_STATE_SAFE_OFF), "a stop that does not stop");
        }
        if (chance(state == WASH_STATE_IDLE ? 20000U : upset)) {
            choose(state);
        }
        if (!rig.wanted_stop && chance(upset)) {
            skip(state);
            state = wash.state;
            error = wash.error;
        }
        if (chance(upset)) {
            tank_is_cool();
        }
        presses = chance(30000);
        begins = presses && wash_start(&wash);
        if (presses && !begins) {
            const bool fails = rig.sticks && rig.cool && heats(chosen);
            const bool may = wash.state == WASH_STATE_IDLE && state == wash.state && !(rig.sees_lid && rig.lid_open);
            const bool refused = wash.error == WASH_ERROR_MEMORY && error != wash.error;
            must(!refused || fails, "a memory that works is said to fail");
            must(!may || (fails && wash.error == WASH_ERROR_MEMORY), "a start that may be is refused");
            met[WASH_ERROR_MEMORY] += refused;
            error = wash.error;
        }
        if (begins) {
            must(!(rig.sticks && rig.cool && heats(chosen)), "a start although the memory fails");
            must(state == WASH_STATE_IDLE || (state == WASH_STATE_HELD && !rig.wanted_stop), "a start in a run");
            must(!rig.sees_lid || !rig.lid_open, "a start with the lid open");
            must(wash.round == (state == WASH_STATE_HELD ? number : 0), "it goes on with another round");
            went_on += state == WASH_STATE_HELD;
            number = wash.round;
            rig.lost_ms = rig.waited_ms = 0U;
            must(wash.state == WASH_STATE_COOL || wash.state == WASH_STATE_START_DRAIN, "a start without a start");
            started++;
            state = wash.state;
            error = WASH_OK;
            rig.state_ms = rig.shown_ms = 0U;
        }
        left_s = wash_left_s(&wash);
        if (rig.sees_bath) {
            rig.read_valid = rig.bath_valid;
            rig.read_dc = rig.bath_valid ? rig.bath_dc : rig.read_dc;
        }
        (void)wash_step(&wash);
        steps_done++;
        if (in_run(state) && !rig.wanted_stop && rig.sees_bath) {
            rig.lost_ms = rig.bath_valid ? 0U : rig.lost_ms + (rig.shown_ms > LATE_MS ? 0U : rig.shown_ms);
        }
        rig.closed_ms = !rig.full || state != WASH_STATE_FILL ? 0U : rig.closed_ms + (closed ? rig.shown_ms : 0U);
        closed = rig.full && state == WASH_STATE_FILL;
        watch_phase(state, number);
        watch_lid(state, number);
        watch_wait(state, error);
        watch_element(state);
        if (wash.state != state || wash.state == WASH_STATE_IDLE || wash.error != error) {
            rig.state_ms = rig.waited_ms = 0U;
        }
        watch_step(rig.wanted_stop ? WASH_STATE_IDLE : state, error);
        watch_view(state, error, left_s);
        rig.skip_ms = 0U;
        rig.skipped = rig.skipped && wash.round == number && in_run(wash.state);
    }
}

int main(int count, char **words)
{
    unsigned long seed, first, number;
    int error;
    if (count != 3) {
        return 2;
    }
    first = strtoul(words[1], NULL, 10);
    number = strtoul(words[2], NULL, 10);
    for (seed = first; seed < first + number; seed++) {
        try_seed(seed);
    }
    printf("%lu %lu %lu %lu %lu %lu %lu %lu %lu %lu %lu %lu %lu %lu", steps_done, chosen_anew, skips_of_cool, skips_of_hot,
           holds, went_on, kept_hot, drained_waited, told_cool, known_cool, lost_writes, drained_warm, started,
           done);
    for (error = 0; error < ERRORS; error++) {
        printf(" %lu", met[error]);
    }
    printf("\n");
    return 0;
}
