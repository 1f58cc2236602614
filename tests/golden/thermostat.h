/*
 * Timing constants of a dish-washing programme for a home-made machine.
 *
 * machine  Tote in a clubhouse
 * goal     Plates after supper
 * circuit  Socket shared with a lamp
 * tariff   One price all day
 * inputs   sha256 0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef
 *
 * Units: _S seconds, _DC tenths of a degree Celsius, _DK tenths of a kelvin, _DG tenths of a gram.
 * Allowed: how far a number may be edited while the others stay. That keeps the machine safe,
 *   not the ware: a shorter heat, spray, soak or rest or a lower set point leaves it dirty, a
 *   higher one may crack glass or set egg, a longer rest or pause lets the bath cool and fat
 *   set, a longer stand only keeps you waiting. Prove an edited file: scullion check FILE
 *   --machine M --goal G.
 *
 * What the controller does:
 * 1. Drain for WASH_START_DRAIN_S, then run the rounds in order, then let the load stand for
 *   WASH_STAND_S.
 * 2. A round is fill, heat, spray, rest, top-up, mix, drain, in this order. Between any two
 *   phases every output is off for WASH_GAP_S; a phase of 0 s is left out together with its
 *   pause.
 * 3. fill: inlet open for _FILL_S. If WASH_FILL_BY_LEVEL is 1: until the level switch closes, at
 *   most _FILL_S; if it has not closed by then, stop and call for help.
 * 4. heat: element on, pump off, for _HEAT_S.
 * 5. spray: wash pump on for _SPRAY_S; element on from its start for _SPRAY_ELEMENT_S.
 * 6. Detergent, _DETERGENT_DG of it, goes in AS THE SPRAY BEGINS, from a dispenser, never with
 *   the fill: in a bath that is heated with the pump off powder cakes on bottom and element. By
 *   hand only where the cautions say so, and as they say.
 * 7. If WASH_HAS_THERMOSTAT is 1: heat ends when the sensor reads _SETPOINT_DC; while spraying
 *   the element goes off there and on again WASH_HYSTERESIS_DK below. _HEAT_S and
 *   _SPRAY_ELEMENT_S are then the longest it may be on. A setpoint of 0 is none.
 * 8. If _SOAK_S is not 0, the spray has two parts, the second as long as WASH_AFTER_SOAK_S, with
 *   _SOAK_S of soak between them: every output off, and a pause on either side. The element
 *   stays off after the soak.
 * 9. rest: every output off for _REST_S.
 * 10. top-up: inlet open once more for _TOP_UP_S, by time, whatever a level switch says. mix:
 *   wash pump on for _MIX_S. They cool what is drained to what the drain pipe stands: leave out
 *   neither.
 * 11. drain: drain pump on for _DRAIN_S, never before the element was off for
 *   WASH_ELEMENT_REST_S. What a round drains was proven to be cool enough for the drain pipe: if
 *   it reads more than WASH_DRAIN_STOP_DC all the same, stop, and keep the water in. What a
 *   stop, a fault, an open lid or a power cut left in the tank was not: drain that once it reads
 *   WASH_DRAIN_MAX_DC or less, or everything has been off for WASH_DRAIN_WAIT_S since it was
 *   last warmed, by a fill too unless WASH_FILL_IS_COLD is 1. A sensor that stood still for
 *   WASH_SENSOR_MOVES_S with the element on, or was lost, gives no leave: then wait, however
 *   cool it reads. Take these numbers from this file, by their names, and keep no copy of them.
 * 12. Lid: shut while it runs and until WASH_LID_OPEN_AFTER_S after the last drain, then ajar
 *   while the load stands. 0: nothing is dried.
 * 13. After a power cut, a pulled plug too: every output stays off until a person starts it. The
 *   ware may be hot, and cold water is sprayed on it: do not start before tank and ware are as
 *   cool as the room, by a thermometer and never by hand, the lid opened away from your face; it
 *   may take hours. Only if WASH_RESTART_AFTER_CUT is 1 does it drain and begin with round 1 by
 *   itself.
 * 14. Watchdogs, whatever the step: all off if the sensor reads more than WASH_BATH_MAX_DC (0:
 *   nothing reads the bath), if the element is on for longer than _ELEMENT_MAX_S of its round or
 *   the inlet is open for longer than WASH_FILL_MAX_S, if the programme takes longer than
 *   WASH_TOTAL_MAX_S, or if a sensor stands still for WASH_SENSOR_MOVES_S with the element on,
 *   but in a round of steam, whose pool stands at the boil. No drain is shorter than
 *   WASH_DRAIN_MIN_S.
 *
 * GUARDS TO BUY, not optional whatever the constants
 * - float switch in series with the element, its contacts rated for 6 A AC at 250 V or more (4.1
 *   A flow), or through a contactor that nothing else switches; it opens while the element is
 *   still under water, above its top, and closes again below 7.5 l, the least water while the
 *   element is on (of several programmes the lowest). Its own differential, 3 to 10 mm by common
 *   practice, has to fit between the two; there is room, as 7.5 l (cover_l) stand 50 mm over the
 *   element, even where both are the same
 * - thermal cut-out with manual reset in series with the element, its feeler on the element's
 *   SHEATH, on its highest heated part, which falls dry first (one in an emptied bath reads
 *   air), its contacts rated as the float switch's, that trips between 120 and 150 C
 * - second cut-out with manual reset in series with the element, its feeler in the bath, just
 *   under the least water, near the element, not at the bottom, for the limit of the tank: one
 *   marked 70 C that trips within 5 K of it, its contacts rated as the float switch's. It has
 *   tripped at 75 C, and lets programmes pass whose bath stays at 62 C or less
 * - overflow switch under the lip that by itself closes a second valve, at the tap (one that is
 *   shut without power): water that runs over reaches what is live, and may scald
 * - lid switch in the supply of pumps and element, its contacts rated for 6 A AC at 250 V or
 *   more, 1 A of it motors (in brackets on a switch, 6(1): IEC 61058-1, from memory) (4.9 A flow
 *   with all of it on at once), or through a contactor that nothing else switches (category
 *   AC-3, as it switches motors: IEC 60947-4-1, from memory); it drops a relay that holds
 *   itself, so that closing the lid starts nothing until start is pressed
 * - thermal protector or thermal fuse in the motor of each pump (or impedance-protected by its
 *   data sheet): it trips by itself while the rotor is locked, before the motor sets its
 *   windings, pump, hoses and the PP of the tank on fire (IEC 60335-1, clause 19, from memory)
 * - 30 mA RCD (type A or better) ahead of the machine; press its test button each month
 *
 * Single faults ask for others besides, and for tests that show a guard that is dead: scullion
 * check FILE --machine M --goal G --circuit C --faults.
 *
 * CAUTIONS: what kills
 * - Mains voltage and water kill. Needed: earth, licensed electrician, 30 mA RCD.
 * - Earth sheath and pumps' metal, and measure it: a plastic tank earths none.
 * - A dry element sets fire: float switch, manual-reset cut-out on its sheath.
 * - Hot water and steam scald: lid shut while it runs, cool before you reach in.
 * - Never leave a home-made machine running alone, or while you sleep.
 * - Face and hands away as the lid goes ajar: steam comes out, the ware is hot.
 * - Keep the vent open; no hand, nothing electrical above it; never seal the lid.
 *
 * CAUTIONS: what harms
 * - Float switch and cut-outs: rated for the element's current, or through a contactor that
 *   nothing else switches (a small reed welds shut); in both poles where the plug can be turned
 *   round. See the float switch open after every drain.
 * - No plastic may touch the element or come near it dry: polypropylene and polyethylene burn.
 * - Controller, relays and plug: higher than the rim, to the side of the tank, in a box that
 *   stands a splash (IPX4, IEC 60529), cables led in from below.
 * - End the inlet above the rim by 20 mm or more, and by twice its bore or more (air gap, EN
 *   1717), or foul water may run back into the mains or your tank.
 * - Shut the tap after each run: hoses burst. Water from a tank of your own has to be fit to
 *   drink: flush tank and hose after they have stood.
 * - Let the inlet's stream meet the tank's wall under the rim, its own end three bores or more
 *   off the wall, and never ware, in fills and top-ups: cold water breaks hot glass.
 * - Loop the drain hose above the rim, in a boat above the waterline too, or give it an air
 *   break: one that hangs low siphons the bath away, and a blocked waste pipe pushes foul water
 *   back onto the ware. An air gap where the code asks for one.
 * - It may drain water of up to 100 C: through a line of its own that stands it (hot-waste
 *   polypropylene or metal), and tempered before it reaches a pipe that stands 60 C only, as
 *   most do. The profile does not say where it goes (drain_pump.drain_line): no such water
 *   before that is settled.
 * - Fix it level: its lip and its float or level switch hold for a level machine. In a boat:
 *   moored, on an even keel, never under way.
 * - Leave no warm water standing in it: germs grow. Drain it; lid ajar as the plan says.
 * - Detergent for machines is alkaline and burns eyes and throat: lock it away from children,
 *   dose it with gloves and eye protection; rinse an eye for 15 min, lenses out, and see a
 *   doctor; wash it off skin with much water; who has swallowed it rinses the mouth, must NOT be
 *   made to vomit, and calls a poison centre. Bare aluminium, wood and glued handles do not
 *   stand it. It goes in as the spray begins, not before: powder cakes in a bath that stands.
 * - Detergent by hand goes into the spray of the wash, not of the prerinse, never of a rinse, in
 *   its first half minute, when you hear the pump, through a capped funnel above splash height;
 *   the lid stays shut. Into a spray of 55 C or more by a dispenser only: steam and hot lye
 *   leave an open funnel.
 * - Detergent by hand: in the spray of round 2 (wash), the second time that the wash pump
 *   starts, about 31 to 42 min after the first drain began (bath up to 53 C); in no other.
 * - By hand, put it in as the pump starts, not half a minute later: the goal counts 0 min from
 *   there (dissolving_min), which leaves no time to dissolve for what is put in at 0:30. NOT in
 *   the proof if it takes longer: set dissolving_min half a minute higher and plan anew.
 * - Scale makes an element's sheath hotter and a spray arm weaker: take it off as it shows, with
 *   citric acid in cold water, rinsed out before detergent goes in again (acid on bleach gives
 *   off poisonous gas).
 * - Run it with all the ware of the profile: about 8.4 kg of steel, which holds the same heat,
 *   or, unless a caution here bans them, 4 kg of porcelain. With less, ware may meet larger
 *   steps of temperature (scullion check --faults says what comes of it): for less ware measure
 *   and plan anew.
 *
 * CAUTIONS: what the numbers are
 * - The numbers hold for the machine as it was measured. After any change, or where a measured
 *   value was a guess: measure, plan and check again.
 * - Proven at 220 to 240 V at the machine's socket, and on this circuit, only. On another
 *   circuit or supply (another place, a generator, shore power) log the voltage and plan anew.
 * - A run begun while the tank is still hot from another, hotter programme is not in the proof:
 *   let it cool to the room first.
 * - Local codes and licensed practice come first wherever they say otherwise.
 * - No hygiene is asked for: clean is not free of germs. Ware for a newborn, or for anyone who
 *   is ill, follows the advice of the health service.
 */

#ifndef SCULLION_WASH_TIMING_H
#define SCULLION_WASH_TIMING_H

#include <stdint.h>

/* A controller of another version has such numbers of its own, or looks for others */
#if defined(SCULLION_WASH_CONTROLLER_H) && (!defined(WASH_CONTROLLER_FORMAT) || WASH_CONTROLLER_FORMAT != 5)
#error "this header and wash_controller are of two versions of scullion; write both anew: scullion constants PLAN --with-controller DIR"
#endif

/* Kind of a round */
enum { WASH_KIND_PRERINSE = 0, WASH_KIND_WASH = 1, WASH_KIND_RINSE = 2, WASH_KIND_STEAM = 3 };

/* Hash of the profiles behind the numbers */
#define WASH_INPUT_SHA256 "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef"

/* The programme as a whole */
#define WASH_FORMAT               5U /* version of this file's layout; 5 and nothing else */
#define WASH_BENCH_RUN            0U /* 1: only rehearses the programme, the element never on; 0 and nothing else */
#define WASH_ROUNDS               4U /* rounds in the table; 4 and nothing else */
#define WASH_START_DRAIN_S       30U /* [s] drain pump on before the first round; 30, allowed 30 to 300 */
#define WASH_GAP_S                2U /* [s] every output off between two phases; 2, allowed 1 to 198 */
#define WASH_AFTER_SOAK_S         0U /* [s] last part of a spray, after its soak; 0 and nothing else */
#define WASH_STAND_S           1200U /* [s] the load stands after the last drain; 1200, allowed 1200 to 4344 */
#define WASH_LID_OPEN_AFTER_S   120U /* [s] lid shut until so long after the last drain, then ajar; 120, allowed 120 to 1200 */
#define WASH_FILL_BY_LEVEL        1U /* 1: a level switch ends the fill; 1 and nothing else */
#define WASH_HAS_THERMOSTAT       1U /* 1: a sensor stops the element; 1 and nothing else */
#define WASH_HYSTERESIS_DK       10U /* [0.1 K] thermostat: on again so far below; 10, allowed 5 to 10 */
#define WASH_BATH_MAX_DC        700U /* [0.1 C] watchdog: hottest the sensor may read; 0: none, nothing reads it; 700, allowed 660 to 700 */
#define WASH_FILL_MAX_S          96U /* [s] watchdog: longest fill; 96, follows from the phases */
#define WASH_DRAIN_MIN_S         30U /* [s] watchdog: shortest drain; 30, follows from the phases */
#define WASH_ELEMENT_MAX_S     3200U /* [s] watchdog: longest the element is on in any round; 3200, follows from the phases */
#define WASH_TOTAL_MAX_S       6954U /* [s] watchdog: the whole programme at its longest; 6954, follows from the phases */
#define WASH_RESTART_AFTER_CUT    0U /* leave at 0; 1: STARTS BY ITSELF as power returns, hot or not, hands in it or not; 0, allowed 0 to 1 */

/* Round 1 of 4: prerinse */
#define WASH_ROUND_1_KIND            WASH_KIND_PRERINSE /* kind, prerinse; 0 and nothing else */
#define WASH_ROUND_1_FILL_S                         90U /* [s] inlet open; 90, allowed 90 to 129; at most, the tank holds 28 l */
#define WASH_ROUND_1_HEAT_S                          0U /* [s] element on, pump off; 0 and nothing else */
#define WASH_ROUND_1_SPRAY_S                       180U /* [s] wash pump on; 180, allowed 120 to 3324 */
#define WASH_ROUND_1_SPRAY_ELEMENT_S                 0U /* [s] element on, from the start of the spray; 0 and nothing else */
#define WASH_ROUND_1_SETPOINT_DC                     0U /* [0.1 C] sensor reading that stops the element; 0 and nothing else */
#define WASH_ROUND_1_SOAK_S                          0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_ROUND_1_REST_S                          0U /* [s] every output off before the drain; 0, allowed 0 to 3142 */
#define WASH_ROUND_1_TOP_UP_S                        0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_ROUND_1_MIX_S                           0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_ROUND_1_DRAIN_S                        60U /* [s] drain pump on; 60, allowed 46 to 300 */
#define WASH_ROUND_1_DETERGENT_DG                    0U /* [0.1 g] detergent, goes in as the spray begins; 0 and nothing else */
#define WASH_ROUND_1_ELEMENT_MAX_S                   0U /* [s] watchdog: longest the element is on in this round; 0, follows from the phases */

/* Round 2 of 4: wash */
#define WASH_ROUND_2_KIND            WASH_KIND_WASH /* kind, wash; 1 and nothing else */
#define WASH_ROUND_2_FILL_S                     96U /* [s] inlet open; 96, allowed 96 to 129; at most, the tank holds 28 l */
#define WASH_ROUND_2_HEAT_S                   2000U /* [s] element on, pump off; 2000, allowed 0 to 2000; at most, ceiling 75 C (tank) */
#define WASH_ROUND_2_SPRAY_S                  1200U /* [s] wash pump on; 1200, allowed 1200 to 4344 */
#define WASH_ROUND_2_SPRAY_ELEMENT_S          1200U /* [s] element on, from the start of the spray; 1200, allowed 0 to 1200; at most, ceiling 75 C (tank) */
#define WASH_ROUND_2_SETPOINT_DC               520U /* [0.1 C] sensor reading that stops the element; 520, allowed 1 to 695; more: above the watchdog of the bath */
#define WASH_ROUND_2_SOAK_S                      0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_ROUND_2_REST_S                     20U /* [s] every output off before the drain; 20, allowed 16 to 3164 */
#define WASH_ROUND_2_TOP_UP_S                    0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_ROUND_2_MIX_S                       0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_ROUND_2_DRAIN_S                    62U /* [s] drain pump on; 62, allowed 47 to 300 */
#define WASH_ROUND_2_DETERGENT_DG              288U /* [0.1 g] detergent, goes in as the spray begins; 288, allowed 267 to 760 */
#define WASH_ROUND_2_ELEMENT_MAX_S            3200U /* [s] watchdog: longest the element is on in this round; 3200, follows from the phases */

/* Round 3 of 4: rinse */
#define WASH_ROUND_3_KIND            WASH_KIND_RINSE /* kind, rinse; 2 and nothing else */
#define WASH_ROUND_3_FILL_S                      84U /* [s] inlet open; 84, allowed 84 to 129; at most, the tank holds 28 l */
#define WASH_ROUND_3_HEAT_S                       0U /* [s] element on, pump off; 0 and nothing else */
#define WASH_ROUND_3_SPRAY_S                    120U /* [s] wash pump on; 120, allowed 120 to 3264 */
#define WASH_ROUND_3_SPRAY_ELEMENT_S              0U /* [s] element on, from the start of the spray; 0 and nothing else */
#define WASH_ROUND_3_SETPOINT_DC                  0U /* [0.1 C] sensor reading that stops the element; 0 and nothing else */
#define WASH_ROUND_3_SOAK_S                       0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_ROUND_3_REST_S                       0U /* [s] every output off before the drain; 0, allowed 0 to 3142 */
#define WASH_ROUND_3_TOP_UP_S                     0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_ROUND_3_MIX_S                        0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_ROUND_3_DRAIN_S                     58U /* [s] drain pump on; 58, allowed 46 to 300 */
#define WASH_ROUND_3_DETERGENT_DG                 0U /* [0.1 g] detergent, goes in as the spray begins; 0 and nothing else */
#define WASH_ROUND_3_ELEMENT_MAX_S                0U /* [s] watchdog: longest the element is on in this round; 0, follows from the phases */

/* Round 4 of 4: rinse */
#define WASH_ROUND_4_KIND            WASH_KIND_RINSE /* kind, rinse; 2 and nothing else */
#define WASH_ROUND_4_FILL_S                      84U /* [s] inlet open; 84, allowed 84 to 129; at most, the tank holds 28 l */
#define WASH_ROUND_4_HEAT_S                    1320U /* [s] element on, pump off; 1320, allowed 0 to 1320; at most, ceiling 75 C (tank) */
#define WASH_ROUND_4_SPRAY_S                    240U /* [s] wash pump on; 240, allowed 120 to 3384 */
#define WASH_ROUND_4_SPRAY_ELEMENT_S            120U /* [s] element on, from the start of the spray; 120, allowed 0 to 120; at most, ceiling 75 C (tank) */
#define WASH_ROUND_4_SETPOINT_DC                655U /* [0.1 C] sensor reading that stops the element; 655, allowed 1 to 695; more: above the watchdog of the bath */
#define WASH_ROUND_4_SOAK_S                       0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_ROUND_4_REST_S                      20U /* [s] every output off before the drain; 20, allowed 0 to 3164 */
#define WASH_ROUND_4_TOP_UP_S                     0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_ROUND_4_MIX_S                        0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_ROUND_4_DRAIN_S                     58U /* [s] drain pump on; 58, allowed 47 to 300 */
#define WASH_ROUND_4_DETERGENT_DG                 0U /* [0.1 g] detergent, goes in as the spray begins; 0 and nothing else */
#define WASH_ROUND_4_ELEMENT_MAX_S             1440U /* [s] watchdog: longest the element is on in this round; 1440, follows from the phases */

/* Facts about machine and circuit: a controller takes them from here */
#define WASH_ELEMENT_REST_S   20U /* [s] off in water until the element may be bare; 20, allowed 20 to 24 */
#define WASH_ELEMENT_MA     4083U /* [mA] current of the element, at most; 4083, allowed 4083 to 4843 */
#define WASH_PUMP_MA         643U /* [mA] current of the wash pump, at most; 643, allowed 643 to 1403 */
#define WASH_DRAIN_MA        113U /* [mA] current of the drain pump, at most; 113, allowed 113 to 5486 */
#define WASH_CIRCUIT_MA     5486U /* [mA] what the circuit leaves them; 5486, allowed 4726 to 5486 */
#define WASH_DRAIN_WAIT_S      0U /* [s] all off so long, and the pipe stands what is left, if the element obeyed; 0: at once; 0, allowed 0 to 1000000 */
#define WASH_DRAIN_MAX_DC   1200U /* [0.1 C] a bath that reads no more may be drained out of its turn; 1200, allowed 0 to 1200 */
#define WASH_DRAIN_STOP_DC  1200U /* [0.1 C] a bath that reads more is too hot for its drain in turn; 1200 and nothing else */
#define WASH_FILL_IS_COLD      1U /* 1: what comes out of the inlet scalds nobody and no drain pipe; 1, allowed 0 to 1 */
#define WASH_SENSOR_MOVES_S  600U /* [s] element on, but in a round of steam: in this time the reading of the bath must move; 600, allowed 321 to 600 */

/* Stops the compiler where a number was edited past a limit; a compiler without static assertions says that
   an array has a negative size, on the line that names the number */
#if defined(__cplusplus) && __cplusplus >= 201103L
#define WASH_ASSERT(holds, message) static_assert(holds, message)
#elif !defined(__cplusplus) && defined(__STDC_VERSION__) && __STDC_VERSION__ >= 201112L
#define WASH_ASSERT(holds, message) _Static_assert(holds, message)
#else
#define WASH_ASSERT(holds, message) typedef char WASH_JOIN(wash_assert_on_line_, __LINE__)[(holds) ? 1 : -1]
#endif
#define WASH_JOIN(left, right) WASH_JOIN_NOW(left, right)
#define WASH_JOIN_NOW(left, right) left##right

/* A phase at its longest with its pause, a soak with two, nothing where it is left out; all of round n */
#define WASH_PHASE_S(seconds) ((seconds) > 0U ? 1UL * (seconds) + WASH_GAP_S : 0UL)
#define WASH_SOAK_S(seconds) ((seconds) > 0U ? 1UL * (seconds) + 2UL * WASH_GAP_S : 0UL)
#define WASH_ROUND_LENGTH_S(n) (WASH_PHASE_S(WASH_ROUND_##n##_FILL_S) + WASH_PHASE_S(WASH_ROUND_##n##_HEAT_S) + WASH_PHASE_S(WASH_ROUND_##n##_SPRAY_S) + WASH_SOAK_S(WASH_ROUND_##n##_SOAK_S) + WASH_PHASE_S(WASH_ROUND_##n##_REST_S) + WASH_PHASE_S(WASH_ROUND_##n##_TOP_UP_S) + WASH_PHASE_S(WASH_ROUND_##n##_MIX_S) + WASH_PHASE_S(WASH_ROUND_##n##_DRAIN_S))

/* Edited by hand? What breaks one of these must not run. Passing them proves nothing: they hold
   what keeps the machine safe, not what gets the ware clean. Prove it again with scullion check. */
WASH_ASSERT(WASH_FORMAT == 5U, "WASH_FORMAT: the controller would take the table for another, plan again");
WASH_ASSERT(WASH_BENCH_RUN == 0U, "WASH_BENCH_RUN: the controller would take the table for another, plan again");
WASH_ASSERT(WASH_ROUNDS == 4U, "WASH_ROUNDS: the controller would take the table for another, plan again");
WASH_ASSERT(WASH_FILL_BY_LEVEL == 1U, "WASH_FILL_BY_LEVEL: the controller would take the table for another, plan again");
WASH_ASSERT(WASH_HAS_THERMOSTAT == 1U, "WASH_HAS_THERMOSTAT: the controller would take the table for another, plan again");
WASH_ASSERT(WASH_ROUND_1_KIND == 0U, "WASH_ROUND_1_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_ROUND_2_KIND == 1U, "WASH_ROUND_2_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_ROUND_3_KIND == 2U, "WASH_ROUND_3_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_ROUND_4_KIND == 2U, "WASH_ROUND_4_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_START_DRAIN_S >= 30U, "WASH_START_DRAIN_S: a tank that a power cut left full is not emptied");
WASH_ASSERT(WASH_START_DRAIN_S <= 300U, "WASH_START_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_RESTART_AFTER_CUT <= 1U, "WASH_RESTART_AFTER_CUT: 0 or 1");
WASH_ASSERT(WASH_GAP_S >= 1U, "WASH_GAP_S: two motors would start together");
WASH_ASSERT(WASH_GAP_S <= 198U, "WASH_GAP_S: longer than the goal allows");
WASH_ASSERT(WASH_AFTER_SOAK_S == 0U, "WASH_AFTER_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_STAND_S >= 1200U, "WASH_STAND_S: shorter than the goal asks");
WASH_ASSERT(WASH_STAND_S <= 4344U, "WASH_STAND_S: longer than the goal allows");
WASH_ASSERT(WASH_LID_OPEN_AFTER_S >= 120U, "WASH_LID_OPEN_AFTER_S: steam comes out as the lid opens");
WASH_ASSERT(WASH_LID_OPEN_AFTER_S <= 1200U, "WASH_LID_OPEN_AFTER_S: the load dries with the lid ajar");
WASH_ASSERT(WASH_HYSTERESIS_DK >= 5U, "WASH_HYSTERESIS_DK: the element would chatter, and its relay weld");
WASH_ASSERT(WASH_HYSTERESIS_DK <= 10U, "WASH_HYSTERESIS_DK: the bath would cool further than was measured");
WASH_ASSERT(WASH_BATH_MAX_DC >= 521U, "WASH_BATH_MAX_DC: the controller would stop a sound programme");
WASH_ASSERT(WASH_BATH_MAX_DC <= 700U, "WASH_BATH_MAX_DC: the tank does not stand it");
WASH_ASSERT(WASH_ROUND_1_FILL_S >= 90U, "WASH_ROUND_1_FILL_S: the level switch may not have closed by then");
WASH_ASSERT(WASH_ROUND_1_FILL_S <= 129U, "WASH_ROUND_1_FILL_S: inlet open for too long if the switch sticks");
WASH_ASSERT(WASH_ROUND_1_HEAT_S <= 0U, "WASH_ROUND_1_HEAT_S: element on for longer than was proven");
WASH_ASSERT(WASH_ROUND_1_SPRAY_ELEMENT_S <= 0U, "WASH_ROUND_1_SPRAY_ELEMENT_S: element on for longer than was proven");
WASH_ASSERT(WASH_ROUND_1_SETPOINT_DC == 0U, "WASH_ROUND_1_SETPOINT_DC: no sensor stops the element here");
WASH_ASSERT(WASH_ROUND_1_SPRAY_S >= 120U, "WASH_ROUND_1_SPRAY_S: a round has to spray for so long");
WASH_ASSERT(WASH_ROUND_1_SPRAY_S <= 3324U, "WASH_ROUND_1_SPRAY_S: longer than the goal allows");
WASH_ASSERT(WASH_ROUND_1_SOAK_S == 0U, "WASH_ROUND_1_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_ROUND_1_REST_S <= 3142U, "WASH_ROUND_1_REST_S: longer than the goal allows");
WASH_ASSERT(WASH_ROUND_1_DRAIN_S >= 46U, "WASH_ROUND_1_DRAIN_S: too short to empty the tank");
WASH_ASSERT(WASH_ROUND_1_DRAIN_S <= 300U, "WASH_ROUND_1_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_ROUND_1_TOP_UP_S == 0U, "WASH_ROUND_1_TOP_UP_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_ROUND_1_MIX_S == 0U, "WASH_ROUND_1_MIX_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_ROUND_1_DETERGENT_DG == 0U, "WASH_ROUND_1_DETERGENT_DG: detergent goes into a wash only");
WASH_ASSERT(WASH_ROUND_2_FILL_S >= 96U, "WASH_ROUND_2_FILL_S: the level switch may not have closed by then");
WASH_ASSERT(WASH_ROUND_2_FILL_S <= 129U, "WASH_ROUND_2_FILL_S: inlet open for too long if the switch sticks");
WASH_ASSERT(WASH_ROUND_2_HEAT_S <= 2000U, "WASH_ROUND_2_HEAT_S: element on for longer than was proven");
WASH_ASSERT(WASH_ROUND_2_SPRAY_ELEMENT_S <= 1200U, "WASH_ROUND_2_SPRAY_ELEMENT_S: element on for longer than was proven");
WASH_ASSERT(WASH_ROUND_2_SPRAY_ELEMENT_S <= WASH_ROUND_2_SPRAY_S, "WASH_ROUND_2_SPRAY_ELEMENT_S, WASH_ROUND_2_SPRAY_S: element on after the spray");
WASH_ASSERT(1UL * WASH_ROUND_2_SPRAY_ELEMENT_S + 1UL * WASH_ELEMENT_REST_S <= 1UL * WASH_ROUND_2_SPRAY_S + 1UL * WASH_GAP_S + WASH_PHASE_S(WASH_ROUND_2_REST_S), "WASH_ROUND_2_REST_S, WASH_ROUND_2_SPRAY_S, WASH_GAP_S, WASH_ELEMENT_REST_S: the element would be hot when the water leaves");
WASH_ASSERT(WASH_ROUND_2_SETPOINT_DC >= 1U, "WASH_ROUND_2_SETPOINT_DC: the element would never come on");
WASH_ASSERT(1UL * WASH_ROUND_2_HEAT_S + 1UL * WASH_ROUND_2_SPRAY_ELEMENT_S >= 1U, "WASH_ROUND_2_HEAT_S, WASH_ROUND_2_SPRAY_ELEMENT_S: an unheated round has no setpoint");
WASH_ASSERT(WASH_ROUND_2_SETPOINT_DC <= 698U, "WASH_ROUND_2_SETPOINT_DC: with the sensor's error the bath may pass 75 C of the tank");
WASH_ASSERT(1UL * WASH_ROUND_2_SETPOINT_DC + 5UL <= WASH_BATH_MAX_DC, "WASH_ROUND_2_SETPOINT_DC, WASH_BATH_MAX_DC: above the watchdog of the bath");
WASH_ASSERT(WASH_ROUND_2_SPRAY_S >= 1U, "WASH_ROUND_2_SPRAY_S: a round has to spray for so long");
WASH_ASSERT(WASH_ROUND_2_SPRAY_S <= 4344U, "WASH_ROUND_2_SPRAY_S: longer than the goal allows");
WASH_ASSERT(WASH_ROUND_2_REST_S <= 3600U, "WASH_ROUND_2_REST_S: longer than the goal lets the ware soak, and no spray follows before the drain");
WASH_ASSERT(WASH_ROUND_2_SOAK_S == 0U, "WASH_ROUND_2_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_ROUND_2_REST_S <= 3164U, "WASH_ROUND_2_REST_S: longer than the goal allows");
WASH_ASSERT(WASH_ROUND_2_DRAIN_S >= 47U, "WASH_ROUND_2_DRAIN_S: too short to empty the tank");
WASH_ASSERT(WASH_ROUND_2_DRAIN_S <= 300U, "WASH_ROUND_2_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_ROUND_2_TOP_UP_S == 0U, "WASH_ROUND_2_TOP_UP_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_ROUND_2_MIX_S == 0U, "WASH_ROUND_2_MIX_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_ROUND_2_DETERGENT_DG >= 267U, "WASH_ROUND_2_DETERGENT_DG: too little detergent for so much water");
WASH_ASSERT(WASH_ROUND_2_DETERGENT_DG <= 760U, "WASH_ROUND_2_DETERGENT_DG: too much detergent for so little water");
WASH_ASSERT(WASH_ROUND_3_FILL_S >= 84U, "WASH_ROUND_3_FILL_S: the level switch may not have closed by then");
WASH_ASSERT(WASH_ROUND_3_FILL_S <= 129U, "WASH_ROUND_3_FILL_S: inlet open for too long if the switch sticks");
WASH_ASSERT(WASH_ROUND_3_HEAT_S <= 0U, "WASH_ROUND_3_HEAT_S: element on for longer than was proven");
WASH_ASSERT(WASH_ROUND_3_SPRAY_ELEMENT_S <= 0U, "WASH_ROUND_3_SPRAY_ELEMENT_S: element on for longer than was proven");
WASH_ASSERT(WASH_ROUND_3_SETPOINT_DC == 0U, "WASH_ROUND_3_SETPOINT_DC: no sensor stops the element here");
WASH_ASSERT(WASH_ROUND_3_SPRAY_S >= 120U, "WASH_ROUND_3_SPRAY_S: a round has to spray for so long");
WASH_ASSERT(WASH_ROUND_3_SPRAY_S <= 3264U, "WASH_ROUND_3_SPRAY_S: longer than the goal allows");
WASH_ASSERT(WASH_ROUND_3_SOAK_S == 0U, "WASH_ROUND_3_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_ROUND_3_REST_S <= 3142U, "WASH_ROUND_3_REST_S: longer than the goal allows");
WASH_ASSERT(WASH_ROUND_3_DRAIN_S >= 46U, "WASH_ROUND_3_DRAIN_S: too short to empty the tank");
WASH_ASSERT(WASH_ROUND_3_DRAIN_S <= 300U, "WASH_ROUND_3_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_ROUND_3_TOP_UP_S == 0U, "WASH_ROUND_3_TOP_UP_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_ROUND_3_MIX_S == 0U, "WASH_ROUND_3_MIX_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_ROUND_3_DETERGENT_DG == 0U, "WASH_ROUND_3_DETERGENT_DG: detergent goes into a wash only");
WASH_ASSERT(WASH_ROUND_4_FILL_S >= 84U, "WASH_ROUND_4_FILL_S: the level switch may not have closed by then");
WASH_ASSERT(WASH_ROUND_4_FILL_S <= 129U, "WASH_ROUND_4_FILL_S: inlet open for too long if the switch sticks");
WASH_ASSERT(WASH_ROUND_4_HEAT_S <= 1320U, "WASH_ROUND_4_HEAT_S: element on for longer than was proven");
WASH_ASSERT(WASH_ROUND_4_SPRAY_ELEMENT_S <= 120U, "WASH_ROUND_4_SPRAY_ELEMENT_S: element on for longer than was proven");
WASH_ASSERT(WASH_ROUND_4_SPRAY_ELEMENT_S <= WASH_ROUND_4_SPRAY_S, "WASH_ROUND_4_SPRAY_ELEMENT_S, WASH_ROUND_4_SPRAY_S: element on after the spray");
WASH_ASSERT(1UL * WASH_ROUND_4_SPRAY_ELEMENT_S + 1UL * WASH_ELEMENT_REST_S <= 1UL * WASH_ROUND_4_SPRAY_S + 1UL * WASH_GAP_S + WASH_PHASE_S(WASH_ROUND_4_REST_S), "WASH_ROUND_4_REST_S, WASH_ROUND_4_SPRAY_S, WASH_GAP_S, WASH_ELEMENT_REST_S: the element would be hot when the water leaves");
WASH_ASSERT(WASH_ROUND_4_SETPOINT_DC >= 1U, "WASH_ROUND_4_SETPOINT_DC: the element would never come on");
WASH_ASSERT(1UL * WASH_ROUND_4_HEAT_S + 1UL * WASH_ROUND_4_SPRAY_ELEMENT_S >= 1U, "WASH_ROUND_4_HEAT_S, WASH_ROUND_4_SPRAY_ELEMENT_S: an unheated round has no setpoint");
WASH_ASSERT(WASH_ROUND_4_SETPOINT_DC <= 698U, "WASH_ROUND_4_SETPOINT_DC: with the sensor's error the bath may pass 75 C of the tank");
WASH_ASSERT(1UL * WASH_ROUND_4_SETPOINT_DC + 5UL <= WASH_BATH_MAX_DC, "WASH_ROUND_4_SETPOINT_DC, WASH_BATH_MAX_DC: above the watchdog of the bath");
WASH_ASSERT(WASH_ROUND_4_SPRAY_S >= 120U, "WASH_ROUND_4_SPRAY_S: a round has to spray for so long");
WASH_ASSERT(WASH_ROUND_4_SPRAY_S <= 3384U, "WASH_ROUND_4_SPRAY_S: longer than the goal allows");
WASH_ASSERT(WASH_ROUND_4_SOAK_S == 0U, "WASH_ROUND_4_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_ROUND_4_REST_S <= 3164U, "WASH_ROUND_4_REST_S: longer than the goal allows");
WASH_ASSERT(WASH_ROUND_4_DRAIN_S >= 47U, "WASH_ROUND_4_DRAIN_S: too short to empty the tank");
WASH_ASSERT(WASH_ROUND_4_DRAIN_S <= 300U, "WASH_ROUND_4_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_ROUND_4_TOP_UP_S == 0U, "WASH_ROUND_4_TOP_UP_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_ROUND_4_MIX_S == 0U, "WASH_ROUND_4_MIX_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_ROUND_4_DETERGENT_DG == 0U, "WASH_ROUND_4_DETERGENT_DG: detergent goes into a wash only");
WASH_ASSERT(1UL * WASH_DRAIN_WAIT_S <= 1000000UL, "WASH_DRAIN_WAIT_S: milliseconds of so long a wait overrun a controller's clock");
WASH_ASSERT(WASH_DRAIN_MAX_DC <= 1200U, "WASH_DRAIN_MAX_DC: the drain pipe does not stand what may be in the tank");
WASH_ASSERT(WASH_DRAIN_STOP_DC == 1200U, "WASH_DRAIN_STOP_DC: the pipe's limit plus what the sensor may err; below it a sound run would be stopped");
WASH_ASSERT(WASH_FILL_IS_COLD <= 1U, "WASH_FILL_IS_COLD: the inlet scalds, or is too hot for the drain pipe");
WASH_ASSERT(WASH_SENSOR_MOVES_S >= 321U, "WASH_SENSOR_MOVES_S: a sound sensor would count as stuck");
WASH_ASSERT(WASH_SENSOR_MOVES_S <= 600U, "WASH_SENSOR_MOVES_S: a sensor that is stuck would not be found");
WASH_ASSERT(WASH_ELEMENT_REST_S >= 20U, "WASH_ELEMENT_REST_S: not what was measured, plan again");
WASH_ASSERT(WASH_ELEMENT_MA >= 4083U, "WASH_ELEMENT_MA: not what was measured, plan again");
WASH_ASSERT(WASH_PUMP_MA >= 643U, "WASH_PUMP_MA: not what was measured, plan again");
WASH_ASSERT(WASH_DRAIN_MA >= 113U, "WASH_DRAIN_MA: not what was measured, plan again");
WASH_ASSERT(1UL * WASH_ELEMENT_REST_S <= 65535UL, "WASH_ELEMENT_REST_S: more than 16 bits hold");
WASH_ASSERT(WASH_CIRCUIT_MA <= 5486U, "WASH_CIRCUIT_MA: not what was measured, plan again");
WASH_ASSERT(1UL * WASH_ELEMENT_MA + 1UL * WASH_PUMP_MA <= WASH_CIRCUIT_MA, "WASH_ELEMENT_MA and WASH_PUMP_MA: more than the circuit leaves, WASH_CIRCUIT_MA");
WASH_ASSERT(WASH_DRAIN_MA <= WASH_CIRCUIT_MA, "WASH_DRAIN_MA: more than the circuit leaves, WASH_CIRCUIT_MA");
WASH_ASSERT(1UL * WASH_START_DRAIN_S + WASH_ROUND_LENGTH_S(1) + WASH_ROUND_LENGTH_S(2) + WASH_ROUND_LENGTH_S(3) + WASH_ROUND_LENGTH_S(4) + 1UL * WASH_STAND_S <= 9744UL + 1UL * WASH_ROUND_1_FILL_S + 1UL * WASH_ROUND_2_FILL_S + 1UL * WASH_ROUND_3_FILL_S + 1UL * WASH_ROUND_4_FILL_S, "all phases from WASH_START_DRAIN_S to WASH_STAND_S: longer than the goal allows");
WASH_ASSERT(WASH_ROUND_1_ELEMENT_MAX_S <= 0U, "WASH_ROUND_1_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_ROUND_1_HEAT_S + 1UL * WASH_ROUND_1_SPRAY_ELEMENT_S == WASH_ROUND_1_ELEMENT_MAX_S, "WASH_ROUND_1_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ROUND_2_ELEMENT_MAX_S <= 3200U, "WASH_ROUND_2_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_ROUND_2_HEAT_S + 1UL * WASH_ROUND_2_SPRAY_ELEMENT_S == WASH_ROUND_2_ELEMENT_MAX_S, "WASH_ROUND_2_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ROUND_3_ELEMENT_MAX_S <= 0U, "WASH_ROUND_3_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_ROUND_3_HEAT_S + 1UL * WASH_ROUND_3_SPRAY_ELEMENT_S == WASH_ROUND_3_ELEMENT_MAX_S, "WASH_ROUND_3_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ROUND_4_ELEMENT_MAX_S <= 1440U, "WASH_ROUND_4_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_ROUND_4_HEAT_S + 1UL * WASH_ROUND_4_SPRAY_ELEMENT_S == WASH_ROUND_4_ELEMENT_MAX_S, "WASH_ROUND_4_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ELEMENT_MAX_S <= 3200U, "WASH_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(WASH_FILL_MAX_S <= 129U, "WASH_FILL_MAX_S: the inlet may be open for too long");
WASH_ASSERT(WASH_DRAIN_MIN_S >= 30U, "WASH_DRAIN_MIN_S: a drain may not be so short");
WASH_ASSERT(WASH_ROUND_1_ELEMENT_MAX_S <= WASH_ELEMENT_MAX_S, "WASH_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ROUND_2_ELEMENT_MAX_S <= WASH_ELEMENT_MAX_S, "WASH_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ROUND_3_ELEMENT_MAX_S <= WASH_ELEMENT_MAX_S, "WASH_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ROUND_4_ELEMENT_MAX_S <= WASH_ELEMENT_MAX_S, "WASH_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ELEMENT_MAX_S == WASH_ROUND_1_ELEMENT_MAX_S || WASH_ELEMENT_MAX_S == WASH_ROUND_2_ELEMENT_MAX_S || WASH_ELEMENT_MAX_S == WASH_ROUND_3_ELEMENT_MAX_S || WASH_ELEMENT_MAX_S == WASH_ROUND_4_ELEMENT_MAX_S, "WASH_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ROUND_1_FILL_S <= WASH_FILL_MAX_S, "WASH_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ROUND_1_TOP_UP_S <= WASH_FILL_MAX_S, "WASH_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ROUND_2_FILL_S <= WASH_FILL_MAX_S, "WASH_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ROUND_2_TOP_UP_S <= WASH_FILL_MAX_S, "WASH_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ROUND_3_FILL_S <= WASH_FILL_MAX_S, "WASH_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ROUND_3_TOP_UP_S <= WASH_FILL_MAX_S, "WASH_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ROUND_4_FILL_S <= WASH_FILL_MAX_S, "WASH_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ROUND_4_TOP_UP_S <= WASH_FILL_MAX_S, "WASH_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_FILL_MAX_S == WASH_ROUND_1_FILL_S || WASH_FILL_MAX_S == WASH_ROUND_1_TOP_UP_S || WASH_FILL_MAX_S == WASH_ROUND_2_FILL_S || WASH_FILL_MAX_S == WASH_ROUND_2_TOP_UP_S || WASH_FILL_MAX_S == WASH_ROUND_3_FILL_S || WASH_FILL_MAX_S == WASH_ROUND_3_TOP_UP_S || WASH_FILL_MAX_S == WASH_ROUND_4_FILL_S || WASH_FILL_MAX_S == WASH_ROUND_4_TOP_UP_S, "WASH_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_START_DRAIN_S >= WASH_DRAIN_MIN_S, "WASH_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ROUND_1_DRAIN_S >= WASH_DRAIN_MIN_S, "WASH_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ROUND_2_DRAIN_S >= WASH_DRAIN_MIN_S, "WASH_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ROUND_3_DRAIN_S >= WASH_DRAIN_MIN_S, "WASH_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_ROUND_4_DRAIN_S >= WASH_DRAIN_MIN_S, "WASH_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_DRAIN_MIN_S == WASH_START_DRAIN_S || WASH_DRAIN_MIN_S == WASH_ROUND_1_DRAIN_S || WASH_DRAIN_MIN_S == WASH_ROUND_2_DRAIN_S || WASH_DRAIN_MIN_S == WASH_ROUND_3_DRAIN_S || WASH_DRAIN_MIN_S == WASH_ROUND_4_DRAIN_S, "WASH_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(1UL * WASH_START_DRAIN_S + WASH_ROUND_LENGTH_S(1) + WASH_ROUND_LENGTH_S(2) + WASH_ROUND_LENGTH_S(3) + WASH_ROUND_LENGTH_S(4) + 1UL * WASH_STAND_S == WASH_TOTAL_MAX_S, "WASH_TOTAL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_TOTAL_MAX_S <= 10260U, "WASH_TOTAL_MAX_S: longer than it may take");

/* The same numbers as a table, for a controller that steps through it */
typedef struct {
    uint8_t kind;
    uint16_t fill_s;
    uint16_t heat_s;
    uint16_t spray_s;
    uint16_t spray_element_s;
    uint16_t setpoint_dc;
    uint16_t soak_s;
    uint16_t rest_s;
    uint16_t top_up_s;
    uint16_t mix_s;
    uint16_t drain_s;
    uint16_t detergent_dg;
} wash_round_t;

static const wash_round_t wash_rounds[WASH_ROUNDS] = {
    { WASH_ROUND_1_KIND,
      WASH_ROUND_1_FILL_S,
      WASH_ROUND_1_HEAT_S,
      WASH_ROUND_1_SPRAY_S,
      WASH_ROUND_1_SPRAY_ELEMENT_S,
      WASH_ROUND_1_SETPOINT_DC,
      WASH_ROUND_1_SOAK_S,
      WASH_ROUND_1_REST_S,
      WASH_ROUND_1_TOP_UP_S,
      WASH_ROUND_1_MIX_S,
      WASH_ROUND_1_DRAIN_S,
      WASH_ROUND_1_DETERGENT_DG },
    { WASH_ROUND_2_KIND,
      WASH_ROUND_2_FILL_S,
      WASH_ROUND_2_HEAT_S,
      WASH_ROUND_2_SPRAY_S,
      WASH_ROUND_2_SPRAY_ELEMENT_S,
      WASH_ROUND_2_SETPOINT_DC,
      WASH_ROUND_2_SOAK_S,
      WASH_ROUND_2_REST_S,
      WASH_ROUND_2_TOP_UP_S,
      WASH_ROUND_2_MIX_S,
      WASH_ROUND_2_DRAIN_S,
      WASH_ROUND_2_DETERGENT_DG },
    { WASH_ROUND_3_KIND,
      WASH_ROUND_3_FILL_S,
      WASH_ROUND_3_HEAT_S,
      WASH_ROUND_3_SPRAY_S,
      WASH_ROUND_3_SPRAY_ELEMENT_S,
      WASH_ROUND_3_SETPOINT_DC,
      WASH_ROUND_3_SOAK_S,
      WASH_ROUND_3_REST_S,
      WASH_ROUND_3_TOP_UP_S,
      WASH_ROUND_3_MIX_S,
      WASH_ROUND_3_DRAIN_S,
      WASH_ROUND_3_DETERGENT_DG },
    { WASH_ROUND_4_KIND,
      WASH_ROUND_4_FILL_S,
      WASH_ROUND_4_HEAT_S,
      WASH_ROUND_4_SPRAY_S,
      WASH_ROUND_4_SPRAY_ELEMENT_S,
      WASH_ROUND_4_SETPOINT_DC,
      WASH_ROUND_4_SOAK_S,
      WASH_ROUND_4_REST_S,
      WASH_ROUND_4_TOP_UP_S,
      WASH_ROUND_4_MIX_S,
      WASH_ROUND_4_DRAIN_S,
      WASH_ROUND_4_DETERGENT_DG },
};

/* A row of it; number counts from 0 */
static inline const wash_round_t *wash_round(uint8_t number) { return &wash_rounds[number]; }

#endif /* SCULLION_WASH_TIMING_H */
