/*
 * Timing constants of 4 dish-washing programmes for one home-made machine.
 *
 * machine  Tote in a clubhouse
 * circuit  Socket shared with a lamp
 *
 * Number, name and longest run of each programme, and what it is for:
 *     1  everyday           6454 s  Plates after supper
 *     2  eco-2              5841 s  Plates after supper
 *     3  cold               3466 s  Plates after supper
 *     4  rehearsal           110 s  bench run, washes nothing
 *
 * rehearsal: BENCH RUN: it washes nothing.
 * rehearsal: It walks through the programme of a home-made dish-washing machine in 110 s: every
 *   phase in its order, each for a few seconds, for you to watch valves and pumps. The element
 *   is never on: a heat phase is left out, and a round that heats has a rest before its drain
 *   instead. All fills together cannot flood a drained tank, even if no drain works.
 * rehearsal: Begin with the tank drained, the element unplugged and somebody at the plug. The
 *   wash pump runs without water for seconds at a time; a level or flow switch of its own holds
 *   it, or ends the run, in a tank so empty.
 *
 * Units: _S seconds, _DC tenths of a degree Celsius, _DK tenths of a kelvin, _DG tenths of a gram.
 * Allowed: how far a number may be edited while the others stay. That keeps the machine safe,
 *   not the ware: a shorter heat, spray, soak or rest or a lower set point leaves it dirty, a
 *   higher one may crack glass or set egg, a longer rest or pause lets the bath cool and fat
 *   set, a longer stand only keeps you waiting. Prove an edited file: scullion check FILE
 *   --machine M --goal G.
 *
 * What the controller does:
 * 1. One programme runs at a time; WASH_GAP_S below is WASH_P1_GAP_S where the first one runs,
 *   and _FILL_S of its round 2 is WASH_P1_ROUND_2_FILL_S. Nobody may choose another one before
 *   it is idle.
 * 2. Drain for WASH_START_DRAIN_S, then run the rounds in order, then let the load stand for
 *   WASH_STAND_S.
 * 3. A round is fill, heat, spray, rest, top-up, mix, drain, in this order. Between any two
 *   phases every output is off for WASH_GAP_S; a phase of 0 s is left out together with its
 *   pause.
 * 4. fill: inlet open for _FILL_S. If WASH_FILL_BY_LEVEL is 1: until the level switch closes, at
 *   most _FILL_S; if it has not closed by then, stop and call for help.
 * 5. heat: element on, pump off, for _HEAT_S.
 * 6. spray: wash pump on for _SPRAY_S; element on from its start for _SPRAY_ELEMENT_S.
 * 7. Detergent, _DETERGENT_DG of it, goes in AS THE SPRAY BEGINS, from a dispenser, never with
 *   the fill: in a bath that is heated with the pump off powder cakes on bottom and element. By
 *   hand only where the cautions say so, and as they say.
 * 8. If WASH_HAS_THERMOSTAT is 1: heat ends when the sensor reads _SETPOINT_DC; while spraying
 *   the element goes off there and on again WASH_HYSTERESIS_DK below. _HEAT_S and
 *   _SPRAY_ELEMENT_S are then the longest it may be on. A setpoint of 0 is none.
 * 9. If _SOAK_S is not 0, the spray has two parts, the second as long as WASH_AFTER_SOAK_S, with
 *   _SOAK_S of soak between them: every output off, and a pause on either side. The element
 *   stays off after the soak.
 * 10. rest: every output off for _REST_S.
 * 11. top-up: inlet open once more for _TOP_UP_S, by time, whatever a level switch says. mix:
 *   wash pump on for _MIX_S. They cool what is drained to what the drain pipe stands: leave out
 *   neither.
 * 12. drain: drain pump on for _DRAIN_S, never before the element was off for
 *   WASH_ELEMENT_REST_S. What a round drains was proven to be cool enough for the drain pipe: if
 *   it reads more than WASH_DRAIN_STOP_DC all the same, stop, and keep the water in. What a
 *   stop, a fault, an open lid or a power cut left in the tank was not: drain that once it reads
 *   WASH_DRAIN_MAX_DC or less, or everything has been off for WASH_DRAIN_WAIT_S since it was
 *   last warmed, by a fill too unless WASH_FILL_IS_COLD is 1. A sensor that stood still for
 *   WASH_SENSOR_MOVES_S with the element on, or was lost, gives no leave: then wait, however
 *   cool it reads. Take these numbers from this file, by their names, and keep no copy of them.
 * 13. Lid: shut while it runs and until WASH_LID_OPEN_AFTER_S after the last drain, then ajar
 *   while the load stands. 0: nothing is dried.
 * 14. After a power cut, a pulled plug too: every output stays off until a person starts it. The
 *   ware may be hot, and cold water is sprayed on it: do not start before tank and ware are as
 *   cool as the room, by a thermometer and never by hand, the lid opened away from your face; it
 *   may take hours. Only if WASH_RESTART_AFTER_CUT is 1 does it drain and begin with round 1 by
 *   itself.
 * 15. Watchdogs, whatever the step: all off if the sensor reads more than WASH_BATH_MAX_DC (0:
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
 * - For everyday: Detergent by hand: in the spray of round 2 (wash), the second time that the
 *   wash pump starts, about 32 to 33 min after the first drain began (bath up to 50 C); in no
 *   other.
 * - For eco-2: Detergent by hand: in the spray of round 1 (wash), the first time that the wash
 *   pump starts, about 17 to 18 min after the first drain began (bath up to 41 C); in no other.
 * - For cold: Detergent by hand: in the spray of round 2 (wash), the second time that the wash
 *   pump starts, about 7 to 8 min after the first drain began (bath up to 17 C); in no other.
 * - For rehearsal: No detergent in a bench run: nothing would rinse it off.
 * - By hand, put it in as the pump starts, not half a minute later: the goal counts 0 min from
 *   there (dissolving_min), which leaves no time to dissolve for what is put in at 0:30. NOT in
 *   the proof if it takes longer: set dissolving_min half a minute higher and plan anew.
 * - Scale makes an element's sheath hotter and a spray arm weaker: take it off as it shows, with
 *   citric acid in cold water, rinsed out before detergent goes in again (acid on bleach gives
 *   off poisonous gas).
 * - Run it with all the ware of the profile: about 8.4 kg of steel, which holds the same heat,
 *   or, unless a caution here bans them, 4 kg of porcelain. With less, a bath heated by time
 *   ends hotter, ware may meet larger steps of temperature (scullion check --faults says what
 *   comes of it): for less ware measure and plan anew.
 *
 * CAUTIONS: what the numbers are
 * - The numbers hold for the machine as it was measured. After any change, or where a measured
 *   value was a guess: measure, plan and check again.
 * - Proven at 220 to 240 V at the machine's socket, and on this circuit, only. On another
 *   circuit or supply (another place, a generator, shore power) log the voltage and plan anew:
 *   heated by time, a bath gets hotter than said at more volts, and so does what is drained, and
 *   less clean at fewer.
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

/* What all programmes share */
#define WASH_FORMAT         6U /* version of this file's layout; 6 and nothing else */
#define WASH_PROGRAMMES     4U /* programmes in this file; 4 and nothing else */
#define WASH_FILL_BY_LEVEL  0U /* 1: a level switch ends the fill; 0 and nothing else */
#define WASH_HAS_THERMOSTAT 0U /* 1: a sensor stops the element; 0 and nothing else */

/* Facts about machine and circuit: a controller takes them from here */
#define WASH_ELEMENT_REST_S   20U /* [s] off in water until the element may be bare; 20, allowed 20 to 144 */
#define WASH_ELEMENT_MA     4083U /* [mA] current of the element, at most; 4083, allowed 4083 to 4843 */
#define WASH_PUMP_MA         643U /* [mA] current of the wash pump, at most; 643, allowed 643 to 1403 */
#define WASH_DRAIN_MA        113U /* [mA] current of the drain pump, at most; 113, allowed 113 to 5486 */
#define WASH_CIRCUIT_MA     5486U /* [mA] what the circuit leaves them; 5486, allowed 4726 to 5486 */
#define WASH_DRAIN_WAIT_S      0U /* [s] all off so long, and the pipe stands what is left, if the element obeyed; 0: at once; 0, allowed 0 to 1000000 */
#define WASH_DRAIN_MAX_DC   1200U /* [0.1 C] a bath that reads no more may be drained out of its turn; 1200, allowed 0 to 1200 */
#define WASH_DRAIN_STOP_DC  1200U /* [0.1 C] a bath that reads more is too hot for its drain in turn; 1200 and nothing else */
#define WASH_FILL_IS_COLD      1U /* 1: what comes out of the inlet scalds nobody and no drain pipe; 1, allowed 0 to 1 */
#define WASH_SENSOR_MOVES_S  600U /* [s] element on, but in a round of steam: in this time the reading of the bath must move; 600, allowed 284 to 600 */

/* Programme 1 of 4: name, hash of the profiles behind it, the programme as a whole */
#define WASH_P1_NAME "everyday"
#define WASH_P1_INPUT_SHA256 "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef"
#define WASH_P1_BENCH_RUN            0U /* 1: only rehearses the programme, the element never on; 0 and nothing else */
#define WASH_P1_ROUNDS               4U /* rounds in the table; 4 and nothing else */
#define WASH_P1_START_DRAIN_S       30U /* [s] drain pump on before the first round; 30, allowed 30 to 300 */
#define WASH_P1_GAP_S                2U /* [s] every output off between two phases; 2, allowed 1 to 236 */
#define WASH_P1_AFTER_SOAK_S         0U /* [s] last part of a spray, after its soak; 0 and nothing else */
#define WASH_P1_STAND_S           1200U /* [s] the load stands after the last drain; 1200, allowed 1200 to 4946 */
#define WASH_P1_LID_OPEN_AFTER_S   120U /* [s] lid shut until so long after the last drain, then ajar; 120, allowed 120 to 1200 */
#define WASH_P1_HYSTERESIS_DK        0U /* [0.1 K] thermostat: on again so far below; 0 and nothing else */
#define WASH_P1_BATH_MAX_DC          0U /* [0.1 C] watchdog: hottest the sensor may read; 0: none, nothing reads it; 0 and nothing else */
#define WASH_P1_FILL_MAX_S          96U /* [s] watchdog: longest fill; 96, follows from the phases */
#define WASH_P1_DRAIN_MIN_S         30U /* [s] watchdog: shortest drain; 30, follows from the phases */
#define WASH_P1_ELEMENT_MAX_S     1980U /* [s] watchdog: longest the element is on in any round; 1980, follows from the phases */
#define WASH_P1_TOTAL_MAX_S       6454U /* [s] watchdog: the whole programme at its longest; 6454, follows from the phases */
#define WASH_P1_RESTART_AFTER_CUT    0U /* leave at 0; 1: STARTS BY ITSELF as power returns, hot or not, hands in it or not; 0, allowed 0 to 1 */

/* Programme 1 of 4. Round 1 of 4: prerinse */
#define WASH_P1_ROUND_1_KIND            WASH_KIND_PRERINSE /* kind, prerinse; 0 and nothing else */
#define WASH_P1_ROUND_1_FILL_S                         90U /* [s] inlet open; 90, allowed 79 to 108; 79 to 239 with others, the tank holds 28 l: more water may ask for longer drain */
#define WASH_P1_ROUND_1_HEAT_S                          0U /* [s] element on, pump off; 0 and nothing else */
#define WASH_P1_ROUND_1_SPRAY_S                       180U /* [s] wash pump on; 180, allowed 120 to 3926 */
#define WASH_P1_ROUND_1_SPRAY_ELEMENT_S                 0U /* [s] element on, from the start of the spray; 0 and nothing else */
#define WASH_P1_ROUND_1_SETPOINT_DC                     0U /* [0.1 C] sensor reading that stops the element; 0 and nothing else */
#define WASH_P1_ROUND_1_SOAK_S                          0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_P1_ROUND_1_REST_S                          0U /* [s] every output off before the drain; 0, allowed 0 to 3744 */
#define WASH_P1_ROUND_1_TOP_UP_S                        0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_P1_ROUND_1_MIX_S                           0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_P1_ROUND_1_DRAIN_S                        60U /* [s] drain pump on; 60, allowed 50 to 300 */
#define WASH_P1_ROUND_1_DETERGENT_DG                    0U /* [0.1 g] detergent, goes in as the spray begins; 0 and nothing else */
#define WASH_P1_ROUND_1_ELEMENT_MAX_S                   0U /* [s] watchdog: longest the element is on in this round; 0, follows from the phases */

/* Programme 1 of 4. Round 2 of 4: wash */
#define WASH_P1_ROUND_2_KIND            WASH_KIND_WASH /* kind, wash; 1 and nothing else */
#define WASH_P1_ROUND_2_FILL_S                     96U /* [s] inlet open; 96 and nothing else; 96 to 239 with others, the tank holds 28 l: more water may ask for longer drain and more detergent, gets no more element; less water for less element and less detergent */
#define WASH_P1_ROUND_2_HEAT_S                   1500U /* [s] element on, pump off; 1500, allowed 0 to 1500; ceiling 67 C (tank, 75 C, less 8 K for a cut-out) */
#define WASH_P1_ROUND_2_SPRAY_S                  1200U /* [s] wash pump on; 1200, allowed 480 to 4946 */
#define WASH_P1_ROUND_2_SPRAY_ELEMENT_S           480U /* [s] element on, from the start of the spray; 480, allowed 0 to 480; ceiling 67 C (tank, 75 C, less 8 K for a cut-out) */
#define WASH_P1_ROUND_2_SETPOINT_DC                 0U /* [0.1 C] sensor reading that stops the element; 0 and nothing else */
#define WASH_P1_ROUND_2_SOAK_S                      0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_P1_ROUND_2_REST_S                     20U /* [s] every output off before the drain; 20, allowed 0 to 3600 */
#define WASH_P1_ROUND_2_TOP_UP_S                    0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_P1_ROUND_2_MIX_S                       0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_P1_ROUND_2_DRAIN_S                    62U /* [s] drain pump on; 62, allowed 55 to 300 */
#define WASH_P1_ROUND_2_DETERGENT_DG              288U /* [0.1 g] detergent, goes in as the spray begins; 288, allowed 288 to 688 */
#define WASH_P1_ROUND_2_ELEMENT_MAX_S            1980U /* [s] watchdog: longest the element is on in this round; 1980, follows from the phases */

/* Programme 1 of 4. Round 3 of 4: rinse */
#define WASH_P1_ROUND_3_KIND            WASH_KIND_RINSE /* kind, rinse; 2 and nothing else */
#define WASH_P1_ROUND_3_FILL_S                      84U /* [s] inlet open; 84, allowed 74 to 103; 74 to 239 with others, the tank holds 28 l: more water may ask for longer drain */
#define WASH_P1_ROUND_3_HEAT_S                       0U /* [s] element on, pump off; 0 and nothing else */
#define WASH_P1_ROUND_3_SPRAY_S                    120U /* [s] wash pump on; 120, allowed 120 to 3866 */
#define WASH_P1_ROUND_3_SPRAY_ELEMENT_S              0U /* [s] element on, from the start of the spray; 0 and nothing else */
#define WASH_P1_ROUND_3_SETPOINT_DC                  0U /* [0.1 C] sensor reading that stops the element; 0 and nothing else */
#define WASH_P1_ROUND_3_SOAK_S                       0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_P1_ROUND_3_REST_S                       0U /* [s] every output off before the drain; 0, allowed 0 to 3744 */
#define WASH_P1_ROUND_3_TOP_UP_S                     0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_P1_ROUND_3_MIX_S                        0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_P1_ROUND_3_DRAIN_S                     58U /* [s] drain pump on; 58, allowed 47 to 300 */
#define WASH_P1_ROUND_3_DETERGENT_DG                 0U /* [0.1 g] detergent, goes in as the spray begins; 0 and nothing else */
#define WASH_P1_ROUND_3_ELEMENT_MAX_S                0U /* [s] watchdog: longest the element is on in this round; 0, follows from the phases */

/* Programme 1 of 4. Round 4 of 4: rinse */
#define WASH_P1_ROUND_4_KIND            WASH_KIND_RINSE /* kind, rinse; 2 and nothing else */
#define WASH_P1_ROUND_4_FILL_S                      84U /* [s] inlet open; 84, allowed 84 to 101; 84 to 239 with others, the tank holds 28 l: more water may ask for longer drain, gets no more element; less water for less element */
#define WASH_P1_ROUND_4_HEAT_S                    1320U /* [s] element on, pump off; 1320, allowed 0 to 1320; ceiling 67 C (tank, 75 C, less 8 K for a cut-out) */
#define WASH_P1_ROUND_4_SPRAY_S                    240U /* [s] wash pump on; 240, allowed 120 to 3986 */
#define WASH_P1_ROUND_4_SPRAY_ELEMENT_S            120U /* [s] element on, from the start of the spray; 120, allowed 0 to 120; ceiling 67 C (tank, 75 C, less 8 K for a cut-out) */
#define WASH_P1_ROUND_4_SETPOINT_DC                  0U /* [0.1 C] sensor reading that stops the element; 0 and nothing else */
#define WASH_P1_ROUND_4_SOAK_S                       0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_P1_ROUND_4_REST_S                      20U /* [s] every output off before the drain; 20, allowed 0 to 3766 */
#define WASH_P1_ROUND_4_TOP_UP_S                     0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_P1_ROUND_4_MIX_S                        0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_P1_ROUND_4_DRAIN_S                     58U /* [s] drain pump on; 58, allowed 48 to 300 */
#define WASH_P1_ROUND_4_DETERGENT_DG                 0U /* [0.1 g] detergent, goes in as the spray begins; 0 and nothing else */
#define WASH_P1_ROUND_4_ELEMENT_MAX_S             1440U /* [s] watchdog: longest the element is on in this round; 1440, follows from the phases */

/* Programme 2 of 4: name, hash of the profiles behind it, the programme as a whole */
#define WASH_P2_NAME "eco-2"
#define WASH_P2_INPUT_SHA256 "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef"
#define WASH_P2_BENCH_RUN            0U /* 1: only rehearses the programme, the element never on; 0 and nothing else */
#define WASH_P2_ROUNDS               3U /* rounds in the table; 3 and nothing else */
#define WASH_P2_START_DRAIN_S       30U /* [s] drain pump on before the first round; 30, allowed 30 to 300 */
#define WASH_P2_GAP_S                3U /* [s] every output off between two phases; 3, allowed 1 to 338 */
#define WASH_P2_AFTER_SOAK_S         0U /* [s] last part of a spray, after its soak; 0 and nothing else */
#define WASH_P2_STAND_S           1500U /* [s] the load stands after the last drain; 1500, allowed 1200 to 5859 */
#define WASH_P2_LID_OPEN_AFTER_S   120U /* [s] lid shut until so long after the last drain, then ajar; 120, allowed 120 to 1500 */
#define WASH_P2_HYSTERESIS_DK        0U /* [0.1 K] thermostat: on again so far below; 0 and nothing else */
#define WASH_P2_BATH_MAX_DC          0U /* [0.1 C] watchdog: hottest the sensor may read; 0: none, nothing reads it; 0 and nothing else */
#define WASH_P2_FILL_MAX_S          96U /* [s] watchdog: longest fill; 96, follows from the phases */
#define WASH_P2_DRAIN_MIN_S         30U /* [s] watchdog: shortest drain; 30, follows from the phases */
#define WASH_P2_ELEMENT_MAX_S     1440U /* [s] watchdog: longest the element is on in any round; 1440, follows from the phases */
#define WASH_P2_TOTAL_MAX_S       5841U /* [s] watchdog: the whole programme at its longest; 5841, follows from the phases */
#define WASH_P2_RESTART_AFTER_CUT    0U /* leave at 0; 1: STARTS BY ITSELF as power returns, hot or not, hands in it or not; 0, allowed 0 to 1 */

/* Programme 2 of 4. Round 1 of 3: wash */
#define WASH_P2_ROUND_1_KIND            WASH_KIND_WASH /* kind, wash; 1 and nothing else */
#define WASH_P2_ROUND_1_FILL_S                     96U /* [s] inlet open; 96 and nothing else; 96 to 239 with others, the tank holds 28 l: more water may ask for longer drain and more detergent, gets no more element; less water for less element and less detergent */
#define WASH_P2_ROUND_1_HEAT_S                    900U /* [s] element on, pump off; 900, allowed 0 to 900; ceiling 67 C (tank, 75 C, less 8 K for a cut-out) */
#define WASH_P2_ROUND_1_SPRAY_S                  1200U /* [s] wash pump on; 1200, allowed 480 to 5559 */
#define WASH_P2_ROUND_1_SPRAY_ELEMENT_S           480U /* [s] element on, from the start of the spray; 480, allowed 0 to 480; ceiling 67 C (tank, 75 C, less 8 K for a cut-out) */
#define WASH_P2_ROUND_1_SETPOINT_DC                 0U /* [0.1 C] sensor reading that stops the element; 0 and nothing else */
#define WASH_P2_ROUND_1_SOAK_S                      0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_P2_ROUND_1_REST_S                     30U /* [s] every output off before the drain; 30, allowed 0 to 3600 */
#define WASH_P2_ROUND_1_TOP_UP_S                    0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_P2_ROUND_1_MIX_S                       0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_P2_ROUND_1_DRAIN_S                    62U /* [s] drain pump on; 62, allowed 55 to 300 */
#define WASH_P2_ROUND_1_DETERGENT_DG              288U /* [0.1 g] detergent, goes in as the spray begins; 288, allowed 288 to 640 */
#define WASH_P2_ROUND_1_ELEMENT_MAX_S            1380U /* [s] watchdog: longest the element is on in this round; 1380, follows from the phases */

/* Programme 2 of 4. Round 2 of 3: rinse */
#define WASH_P2_ROUND_2_KIND            WASH_KIND_RINSE /* kind, rinse; 2 and nothing else */
#define WASH_P2_ROUND_2_FILL_S                      84U /* [s] inlet open; 84, allowed 74 to 103; 74 to 239 with others, the tank holds 28 l: more water may ask for longer drain */
#define WASH_P2_ROUND_2_HEAT_S                       0U /* [s] element on, pump off; 0 and nothing else */
#define WASH_P2_ROUND_2_SPRAY_S                    120U /* [s] wash pump on; 120, allowed 120 to 4479 */
#define WASH_P2_ROUND_2_SPRAY_ELEMENT_S              0U /* [s] element on, from the start of the spray; 0 and nothing else */
#define WASH_P2_ROUND_2_SETPOINT_DC                  0U /* [0.1 C] sensor reading that stops the element; 0 and nothing else */
#define WASH_P2_ROUND_2_SOAK_S                       0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_P2_ROUND_2_REST_S                       0U /* [s] every output off before the drain; 0, allowed 0 to 4356 */
#define WASH_P2_ROUND_2_TOP_UP_S                     0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_P2_ROUND_2_MIX_S                        0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_P2_ROUND_2_DRAIN_S                     58U /* [s] drain pump on; 58, allowed 47 to 300 */
#define WASH_P2_ROUND_2_DETERGENT_DG                 0U /* [0.1 g] detergent, goes in as the spray begins; 0 and nothing else */
#define WASH_P2_ROUND_2_ELEMENT_MAX_S                0U /* [s] watchdog: longest the element is on in this round; 0, follows from the phases */

/* Programme 2 of 4. Round 3 of 3: rinse */
#define WASH_P2_ROUND_3_KIND            WASH_KIND_RINSE /* kind, rinse; 2 and nothing else */
#define WASH_P2_ROUND_3_FILL_S                      84U /* [s] inlet open; 84, allowed 84 to 101; 84 to 239 with others, the tank holds 28 l: more water may ask for longer drain, gets no more element; less water for less element */
#define WASH_P2_ROUND_3_HEAT_S                    1320U /* [s] element on, pump off; 1320, allowed 0 to 1320; ceiling 67 C (tank, 75 C, less 8 K for a cut-out) */
#define WASH_P2_ROUND_3_SPRAY_S                    240U /* [s] wash pump on; 240, allowed 120 to 4599 */
#define WASH_P2_ROUND_3_SPRAY_ELEMENT_S            120U /* [s] element on, from the start of the spray; 120, allowed 0 to 120; ceiling 67 C (tank, 75 C, less 8 K for a cut-out) */
#define WASH_P2_ROUND_3_SETPOINT_DC                  0U /* [0.1 C] sensor reading that stops the element; 0 and nothing else */
#define WASH_P2_ROUND_3_SOAK_S                       0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_P2_ROUND_3_REST_S                      20U /* [s] every output off before the drain; 20, allowed 0 to 4379 */
#define WASH_P2_ROUND_3_TOP_UP_S                     0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_P2_ROUND_3_MIX_S                        0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_P2_ROUND_3_DRAIN_S                     58U /* [s] drain pump on; 58, allowed 48 to 300 */
#define WASH_P2_ROUND_3_DETERGENT_DG                 0U /* [0.1 g] detergent, goes in as the spray begins; 0 and nothing else */
#define WASH_P2_ROUND_3_ELEMENT_MAX_S             1440U /* [s] watchdog: longest the element is on in this round; 1440, follows from the phases */

/* Programme 3 of 4: name, hash of the profiles behind it, the programme as a whole */
#define WASH_P3_NAME "cold"
#define WASH_P3_INPUT_SHA256 "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef"
#define WASH_P3_BENCH_RUN            0U /* 1: only rehearses the programme, the element never on; 0 and nothing else */
#define WASH_P3_ROUNDS               4U /* rounds in the table; 4 and nothing else */
#define WASH_P3_START_DRAIN_S       30U /* [s] drain pump on before the first round; 30, allowed 30 to 300 */
#define WASH_P3_GAP_S                2U /* [s] every output off between two phases; 2, allowed 1 to 563 */
#define WASH_P3_AFTER_SOAK_S         0U /* [s] last part of a spray, after its soak; 0 and nothing else */
#define WASH_P3_STAND_S           1200U /* [s] the load stands after the last drain; 1200, allowed 1200 to 7934 */
#define WASH_P3_LID_OPEN_AFTER_S   120U /* [s] lid shut until so long after the last drain, then ajar; 120, allowed 120 to 1200 */
#define WASH_P3_HYSTERESIS_DK        0U /* [0.1 K] thermostat: on again so far below; 0 and nothing else */
#define WASH_P3_BATH_MAX_DC          0U /* [0.1 C] watchdog: hottest the sensor may read; 0: none, nothing reads it; 0 and nothing else */
#define WASH_P3_FILL_MAX_S          96U /* [s] watchdog: longest fill; 96, follows from the phases */
#define WASH_P3_DRAIN_MIN_S         30U /* [s] watchdog: shortest drain; 30, follows from the phases */
#define WASH_P3_ELEMENT_MAX_S        0U /* [s] watchdog: longest the element is on in any round; 0, follows from the phases */
#define WASH_P3_TOTAL_MAX_S       3466U /* [s] watchdog: the whole programme at its longest; 3466, follows from the phases */
#define WASH_P3_RESTART_AFTER_CUT    0U /* leave at 0; 1: STARTS BY ITSELF as power returns, hot or not, hands in it or not; 0, allowed 0 to 1 */

/* Programme 3 of 4. Round 1 of 4: prerinse */
#define WASH_P3_ROUND_1_KIND            WASH_KIND_PRERINSE /* kind, prerinse; 0 and nothing else */
#define WASH_P3_ROUND_1_FILL_S                         90U /* [s] inlet open; 90, allowed 79 to 108; 79 to 239 with others, the tank holds 28 l: more water may ask for longer drain */
#define WASH_P3_ROUND_1_HEAT_S                          0U /* [s] element on, pump off; 0 and nothing else */
#define WASH_P3_ROUND_1_SPRAY_S                       180U /* [s] wash pump on; 180, allowed 120 to 6914 */
#define WASH_P3_ROUND_1_SPRAY_ELEMENT_S                 0U /* [s] element on, from the start of the spray; 0 and nothing else */
#define WASH_P3_ROUND_1_SETPOINT_DC                     0U /* [0.1 C] sensor reading that stops the element; 0 and nothing else */
#define WASH_P3_ROUND_1_SOAK_S                          0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_P3_ROUND_1_REST_S                          0U /* [s] every output off before the drain; 0, allowed 0 to 6732 */
#define WASH_P3_ROUND_1_TOP_UP_S                        0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_P3_ROUND_1_MIX_S                           0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_P3_ROUND_1_DRAIN_S                        60U /* [s] drain pump on; 60, allowed 50 to 300 */
#define WASH_P3_ROUND_1_DETERGENT_DG                    0U /* [0.1 g] detergent, goes in as the spray begins; 0 and nothing else */
#define WASH_P3_ROUND_1_ELEMENT_MAX_S                   0U /* [s] watchdog: longest the element is on in this round; 0, follows from the phases */

/* Programme 3 of 4. Round 2 of 4: wash */
#define WASH_P3_ROUND_2_KIND            WASH_KIND_WASH /* kind, wash; 1 and nothing else */
#define WASH_P3_ROUND_2_FILL_S                     96U /* [s] inlet open; 96, allowed 74 to 96; 74 to 239 with others, the tank holds 28 l: more water may ask for longer drain and more detergent; less water for less detergent */
#define WASH_P3_ROUND_2_HEAT_S                      0U /* [s] element on, pump off; 0 and nothing else */
#define WASH_P3_ROUND_2_SPRAY_S                  1200U /* [s] wash pump on; 1200, allowed 1 to 7934 */
#define WASH_P3_ROUND_2_SPRAY_ELEMENT_S             0U /* [s] element on, from the start of the spray; 0 and nothing else */
#define WASH_P3_ROUND_2_SETPOINT_DC                 0U /* [0.1 C] sensor reading that stops the element; 0 and nothing else */
#define WASH_P3_ROUND_2_SOAK_S                      0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_P3_ROUND_2_REST_S                      0U /* [s] every output off before the drain; 0, allowed 0 to 3600 */
#define WASH_P3_ROUND_2_TOP_UP_S                    0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_P3_ROUND_2_MIX_S                       0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_P3_ROUND_2_DRAIN_S                    62U /* [s] drain pump on; 62, allowed 54 to 300 */
#define WASH_P3_ROUND_2_DETERGENT_DG              288U /* [0.1 g] detergent, goes in as the spray begins; 288, allowed 288 to 688 */
#define WASH_P3_ROUND_2_ELEMENT_MAX_S               0U /* [s] watchdog: longest the element is on in this round; 0, follows from the phases */

/* Programme 3 of 4. Round 3 of 4: rinse */
#define WASH_P3_ROUND_3_KIND            WASH_KIND_RINSE /* kind, rinse; 2 and nothing else */
#define WASH_P3_ROUND_3_FILL_S                      84U /* [s] inlet open; 84, allowed 74 to 103; 74 to 239 with others, the tank holds 28 l: more water may ask for longer drain */
#define WASH_P3_ROUND_3_HEAT_S                       0U /* [s] element on, pump off; 0 and nothing else */
#define WASH_P3_ROUND_3_SPRAY_S                    120U /* [s] wash pump on; 120, allowed 120 to 6854 */
#define WASH_P3_ROUND_3_SPRAY_ELEMENT_S              0U /* [s] element on, from the start of the spray; 0 and nothing else */
#define WASH_P3_ROUND_3_SETPOINT_DC                  0U /* [0.1 C] sensor reading that stops the element; 0 and nothing else */
#define WASH_P3_ROUND_3_SOAK_S                       0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_P3_ROUND_3_REST_S                       0U /* [s] every output off before the drain; 0, allowed 0 to 6732 */
#define WASH_P3_ROUND_3_TOP_UP_S                     0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_P3_ROUND_3_MIX_S                        0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_P3_ROUND_3_DRAIN_S                     58U /* [s] drain pump on; 58, allowed 47 to 300 */
#define WASH_P3_ROUND_3_DETERGENT_DG                 0U /* [0.1 g] detergent, goes in as the spray begins; 0 and nothing else */
#define WASH_P3_ROUND_3_ELEMENT_MAX_S                0U /* [s] watchdog: longest the element is on in this round; 0, follows from the phases */

/* Programme 3 of 4. Round 4 of 4: rinse */
#define WASH_P3_ROUND_4_KIND            WASH_KIND_RINSE /* kind, rinse; 2 and nothing else */
#define WASH_P3_ROUND_4_FILL_S                      84U /* [s] inlet open; 84, allowed 74 to 103; 74 to 239 with others, the tank holds 28 l: more water may ask for longer drain */
#define WASH_P3_ROUND_4_HEAT_S                       0U /* [s] element on, pump off; 0 and nothing else */
#define WASH_P3_ROUND_4_SPRAY_S                    120U /* [s] wash pump on; 120, allowed 120 to 6854 */
#define WASH_P3_ROUND_4_SPRAY_ELEMENT_S              0U /* [s] element on, from the start of the spray; 0 and nothing else */
#define WASH_P3_ROUND_4_SETPOINT_DC                  0U /* [0.1 C] sensor reading that stops the element; 0 and nothing else */
#define WASH_P3_ROUND_4_SOAK_S                       0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_P3_ROUND_4_REST_S                       0U /* [s] every output off before the drain; 0, allowed 0 to 6732 */
#define WASH_P3_ROUND_4_TOP_UP_S                     0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_P3_ROUND_4_MIX_S                        0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_P3_ROUND_4_DRAIN_S                     58U /* [s] drain pump on; 58, allowed 47 to 300 */
#define WASH_P3_ROUND_4_DETERGENT_DG                 0U /* [0.1 g] detergent, goes in as the spray begins; 0 and nothing else */
#define WASH_P3_ROUND_4_ELEMENT_MAX_S                0U /* [s] watchdog: longest the element is on in this round; 0, follows from the phases */

/* Programme 4 of 4: name, hash of the profiles behind it, the programme as a whole */
#define WASH_P4_NAME "rehearsal"
#define WASH_P4_INPUT_SHA256 "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef"
#define WASH_P4_BENCH_RUN           1U /* 1: only rehearses the programme, the element never on; 1 and nothing else */
#define WASH_P4_ROUNDS              4U /* rounds in the table; 4 and nothing else */
#define WASH_P4_START_DRAIN_S       6U /* [s] drain pump on before the first round; 6, allowed 2 to 6 */
#define WASH_P4_GAP_S               2U /* [s] every output off between two phases; 2, allowed 2 to 6 */
#define WASH_P4_AFTER_SOAK_S        0U /* [s] last part of a spray, after its soak; 0 and nothing else */
#define WASH_P4_STAND_S             4U /* [s] the load stands after the last drain; 4, allowed 2 to 6 */
#define WASH_P4_LID_OPEN_AFTER_S    0U /* [s] lid shut until so long after the last drain, then ajar; 0 and nothing else */
#define WASH_P4_HYSTERESIS_DK       0U /* [0.1 K] thermostat: on again so far below; 0 and nothing else */
#define WASH_P4_BATH_MAX_DC         0U /* [0.1 C] watchdog: hottest the sensor may read; 0: none, nothing reads it; 0 and nothing else */
#define WASH_P4_FILL_MAX_S          6U /* [s] watchdog: longest fill; 6, follows from the phases */
#define WASH_P4_DRAIN_MIN_S         6U /* [s] watchdog: shortest drain; 6, follows from the phases */
#define WASH_P4_ELEMENT_MAX_S       0U /* [s] watchdog: longest the element is on in any round; 0, follows from the phases */
#define WASH_P4_TOTAL_MAX_S       110U /* [s] watchdog: the whole programme at its longest; 110, follows from the phases */
#define WASH_P4_RESTART_AFTER_CUT   0U /* leave at 0; 1: STARTS BY ITSELF as power returns, hot or not, hands in it or not; 0 and nothing else */

/* Programme 4 of 4. Round 1 of 4: prerinse */
#define WASH_P4_ROUND_1_KIND            WASH_KIND_PRERINSE /* kind, prerinse; 0 and nothing else */
#define WASH_P4_ROUND_1_FILL_S                          6U /* [s] inlet open; 6, allowed 2 to 6 */
#define WASH_P4_ROUND_1_HEAT_S                          0U /* [s] element on, pump off; 0 and nothing else */
#define WASH_P4_ROUND_1_SPRAY_S                         4U /* [s] wash pump on; 4, allowed 2 to 6 */
#define WASH_P4_ROUND_1_SPRAY_ELEMENT_S                 0U /* [s] element on, from the start of the spray; 0 and nothing else */
#define WASH_P4_ROUND_1_SETPOINT_DC                     0U /* [0.1 C] sensor reading that stops the element; 0 and nothing else */
#define WASH_P4_ROUND_1_SOAK_S                          0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_P4_ROUND_1_REST_S                          0U /* [s] every output off before the drain; 0 and nothing else */
#define WASH_P4_ROUND_1_TOP_UP_S                        0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_P4_ROUND_1_MIX_S                           0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_P4_ROUND_1_DRAIN_S                         6U /* [s] drain pump on; 6, allowed 2 to 6 */
#define WASH_P4_ROUND_1_DETERGENT_DG                    0U /* [0.1 g] detergent, goes in as the spray begins; 0 and nothing else */
#define WASH_P4_ROUND_1_ELEMENT_MAX_S                   0U /* [s] watchdog: longest the element is on in this round; 0, follows from the phases */

/* Programme 4 of 4. Round 2 of 4: wash */
#define WASH_P4_ROUND_2_KIND            WASH_KIND_WASH /* kind, wash; 1 and nothing else */
#define WASH_P4_ROUND_2_FILL_S                      6U /* [s] inlet open; 6, allowed 2 to 6 */
#define WASH_P4_ROUND_2_HEAT_S                      0U /* [s] element on, pump off; 0 and nothing else */
#define WASH_P4_ROUND_2_SPRAY_S                     4U /* [s] wash pump on; 4, allowed 2 to 6 */
#define WASH_P4_ROUND_2_SPRAY_ELEMENT_S             0U /* [s] element on, from the start of the spray; 0 and nothing else */
#define WASH_P4_ROUND_2_SETPOINT_DC                 0U /* [0.1 C] sensor reading that stops the element; 0 and nothing else */
#define WASH_P4_ROUND_2_SOAK_S                      0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_P4_ROUND_2_REST_S                      4U /* [s] every output off before the drain; 4, allowed 2 to 6 */
#define WASH_P4_ROUND_2_TOP_UP_S                    0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_P4_ROUND_2_MIX_S                       0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_P4_ROUND_2_DRAIN_S                     6U /* [s] drain pump on; 6, allowed 2 to 6 */
#define WASH_P4_ROUND_2_DETERGENT_DG                0U /* [0.1 g] detergent, goes in as the spray begins; 0 and nothing else */
#define WASH_P4_ROUND_2_ELEMENT_MAX_S               0U /* [s] watchdog: longest the element is on in this round; 0, follows from the phases */

/* Programme 4 of 4. Round 3 of 4: rinse */
#define WASH_P4_ROUND_3_KIND            WASH_KIND_RINSE /* kind, rinse; 2 and nothing else */
#define WASH_P4_ROUND_3_FILL_S                       6U /* [s] inlet open; 6, allowed 2 to 6 */
#define WASH_P4_ROUND_3_HEAT_S                       0U /* [s] element on, pump off; 0 and nothing else */
#define WASH_P4_ROUND_3_SPRAY_S                      4U /* [s] wash pump on; 4, allowed 2 to 6 */
#define WASH_P4_ROUND_3_SPRAY_ELEMENT_S              0U /* [s] element on, from the start of the spray; 0 and nothing else */
#define WASH_P4_ROUND_3_SETPOINT_DC                  0U /* [0.1 C] sensor reading that stops the element; 0 and nothing else */
#define WASH_P4_ROUND_3_SOAK_S                       0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_P4_ROUND_3_REST_S                       0U /* [s] every output off before the drain; 0 and nothing else */
#define WASH_P4_ROUND_3_TOP_UP_S                     0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_P4_ROUND_3_MIX_S                        0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_P4_ROUND_3_DRAIN_S                      6U /* [s] drain pump on; 6, allowed 2 to 6 */
#define WASH_P4_ROUND_3_DETERGENT_DG                 0U /* [0.1 g] detergent, goes in as the spray begins; 0 and nothing else */
#define WASH_P4_ROUND_3_ELEMENT_MAX_S                0U /* [s] watchdog: longest the element is on in this round; 0, follows from the phases */

/* Programme 4 of 4. Round 4 of 4: rinse */
#define WASH_P4_ROUND_4_KIND            WASH_KIND_RINSE /* kind, rinse; 2 and nothing else */
#define WASH_P4_ROUND_4_FILL_S                       6U /* [s] inlet open; 6, allowed 2 to 6 */
#define WASH_P4_ROUND_4_HEAT_S                       0U /* [s] element on, pump off; 0 and nothing else */
#define WASH_P4_ROUND_4_SPRAY_S                      4U /* [s] wash pump on; 4, allowed 2 to 6 */
#define WASH_P4_ROUND_4_SPRAY_ELEMENT_S              0U /* [s] element on, from the start of the spray; 0 and nothing else */
#define WASH_P4_ROUND_4_SETPOINT_DC                  0U /* [0.1 C] sensor reading that stops the element; 0 and nothing else */
#define WASH_P4_ROUND_4_SOAK_S                       0U /* [s] every output off before the last part of the spray; 0 and nothing else */
#define WASH_P4_ROUND_4_REST_S                       4U /* [s] every output off before the drain; 4, allowed 2 to 6 */
#define WASH_P4_ROUND_4_TOP_UP_S                     0U /* [s] inlet open before the drain, by time whatever a level switch says: cools what is drained; 0 and nothing else */
#define WASH_P4_ROUND_4_MIX_S                        0U /* [s] wash pump on between top-up and drain, to stir it in; 0 and nothing else */
#define WASH_P4_ROUND_4_DRAIN_S                      6U /* [s] drain pump on; 6, allowed 2 to 6 */
#define WASH_P4_ROUND_4_DETERGENT_DG                 0U /* [0.1 g] detergent, goes in as the spray begins; 0 and nothing else */
#define WASH_P4_ROUND_4_ELEMENT_MAX_S                0U /* [s] watchdog: longest the element is on in this round; 0, follows from the phases */

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

/* A phase at its longest with its pause, a soak with two, nothing where it is left out; all of round n; p is P1 and so on */
#define WASH_PHASE_S(p, seconds) ((seconds) > 0U ? 1UL * (seconds) + WASH_##p##_GAP_S : 0UL)
#define WASH_SOAK_S(p, seconds) ((seconds) > 0U ? 1UL * (seconds) + 2UL * WASH_##p##_GAP_S : 0UL)
#define WASH_ROUND_LENGTH_S(p, n) (WASH_PHASE_S(p, WASH_##p##_ROUND_##n##_FILL_S) + WASH_PHASE_S(p, WASH_##p##_ROUND_##n##_HEAT_S) + WASH_PHASE_S(p, WASH_##p##_ROUND_##n##_SPRAY_S) + WASH_SOAK_S(p, WASH_##p##_ROUND_##n##_SOAK_S) + WASH_PHASE_S(p, WASH_##p##_ROUND_##n##_REST_S) + WASH_PHASE_S(p, WASH_##p##_ROUND_##n##_TOP_UP_S) + WASH_PHASE_S(p, WASH_##p##_ROUND_##n##_MIX_S) + WASH_PHASE_S(p, WASH_##p##_ROUND_##n##_DRAIN_S))

/* Edited by hand? What breaks one of these must not run. Passing them proves nothing: they hold
   what keeps the machine safe, not what gets the ware clean. Prove it again with scullion check. */
WASH_ASSERT(WASH_P1_BENCH_RUN == 0U, "WASH_P1_BENCH_RUN: the controller would take the table for another, plan again");
WASH_ASSERT(WASH_P1_ROUNDS == 4U, "WASH_P1_ROUNDS: the controller would take the table for another, plan again");
WASH_ASSERT(WASH_FILL_BY_LEVEL == 0U, "WASH_FILL_BY_LEVEL: the controller would take the table for another, plan again");
WASH_ASSERT(WASH_HAS_THERMOSTAT == 0U, "WASH_HAS_THERMOSTAT: the controller would take the table for another, plan again");
WASH_ASSERT(WASH_P1_ROUND_1_KIND == 0U, "WASH_P1_ROUND_1_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_P1_ROUND_2_KIND == 1U, "WASH_P1_ROUND_2_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_P1_ROUND_3_KIND == 2U, "WASH_P1_ROUND_3_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_P1_ROUND_4_KIND == 2U, "WASH_P1_ROUND_4_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_P1_START_DRAIN_S >= 30U, "WASH_P1_START_DRAIN_S: a tank that a power cut left full is not emptied");
WASH_ASSERT(WASH_P1_START_DRAIN_S <= 300U, "WASH_P1_START_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_P1_RESTART_AFTER_CUT <= 1U, "WASH_P1_RESTART_AFTER_CUT: 0 or 1");
WASH_ASSERT(WASH_P1_GAP_S >= 1U, "WASH_P1_GAP_S: two motors would start together");
WASH_ASSERT(WASH_P1_GAP_S <= 236U, "WASH_P1_GAP_S: longer than the goal allows");
WASH_ASSERT(WASH_P1_AFTER_SOAK_S == 0U, "WASH_P1_AFTER_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_P1_STAND_S >= 1200U, "WASH_P1_STAND_S: shorter than the goal asks");
WASH_ASSERT(WASH_P1_STAND_S <= 4946U, "WASH_P1_STAND_S: longer than the goal allows");
WASH_ASSERT(WASH_P1_LID_OPEN_AFTER_S >= 120U, "WASH_P1_LID_OPEN_AFTER_S: steam comes out as the lid opens");
WASH_ASSERT(WASH_P1_LID_OPEN_AFTER_S <= 1200U, "WASH_P1_LID_OPEN_AFTER_S: the load dries with the lid ajar");
WASH_ASSERT(WASH_P1_HYSTERESIS_DK == 0U, "WASH_P1_HYSTERESIS_DK: a timed element has none");
WASH_ASSERT(WASH_P1_BATH_MAX_DC == 0U, "WASH_P1_BATH_MAX_DC: nothing reads the bath");
WASH_ASSERT(WASH_P1_ROUND_1_FILL_S >= 79U, "WASH_P1_ROUND_1_FILL_S: element or pump suction not covered under 79 s");
WASH_ASSERT(WASH_P1_ROUND_1_FILL_S <= 239U, "WASH_P1_ROUND_1_FILL_S: the tank may run over after 239 s");
WASH_ASSERT(50UL * WASH_P1_ROUND_1_FILL_S <= 90UL * WASH_P1_ROUND_1_DRAIN_S, "WASH_P1_ROUND_1_FILL_S, WASH_P1_ROUND_1_DRAIN_S: so much water asks for a longer drain");
WASH_ASSERT(WASH_P1_ROUND_1_HEAT_S <= 0U, "WASH_P1_ROUND_1_HEAT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P1_ROUND_1_SPRAY_ELEMENT_S <= 0U, "WASH_P1_ROUND_1_SPRAY_ELEMENT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P1_ROUND_1_SETPOINT_DC == 0U, "WASH_P1_ROUND_1_SETPOINT_DC: no sensor stops the element here");
WASH_ASSERT(WASH_P1_ROUND_1_SPRAY_S >= 120U, "WASH_P1_ROUND_1_SPRAY_S: a round has to spray for so long");
WASH_ASSERT(WASH_P1_ROUND_1_SPRAY_S <= 3926U, "WASH_P1_ROUND_1_SPRAY_S: longer than the goal allows");
WASH_ASSERT(WASH_P1_ROUND_1_SOAK_S == 0U, "WASH_P1_ROUND_1_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_P1_ROUND_1_REST_S <= 3744U, "WASH_P1_ROUND_1_REST_S: longer than the goal allows");
WASH_ASSERT(WASH_P1_ROUND_1_DRAIN_S >= 50U, "WASH_P1_ROUND_1_DRAIN_S: too short to empty the tank");
WASH_ASSERT(WASH_P1_ROUND_1_DRAIN_S <= 300U, "WASH_P1_ROUND_1_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_P1_ROUND_1_TOP_UP_S == 0U, "WASH_P1_ROUND_1_TOP_UP_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P1_ROUND_1_MIX_S == 0U, "WASH_P1_ROUND_1_MIX_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P1_ROUND_1_DETERGENT_DG == 0U, "WASH_P1_ROUND_1_DETERGENT_DG: detergent goes into a wash only");
WASH_ASSERT(WASH_P1_ROUND_2_FILL_S >= 96U, "WASH_P1_ROUND_2_FILL_S: element or pump suction not covered under 96 s");
WASH_ASSERT(WASH_P1_ROUND_2_FILL_S <= 239U, "WASH_P1_ROUND_2_FILL_S: the tank may run over after 239 s");
WASH_ASSERT(55UL * WASH_P1_ROUND_2_FILL_S <= 96UL * WASH_P1_ROUND_2_DRAIN_S, "WASH_P1_ROUND_2_FILL_S, WASH_P1_ROUND_2_DRAIN_S: so much water asks for a longer drain");
WASH_ASSERT(96UL * WASH_P1_ROUND_2_HEAT_S + 96UL * WASH_P1_ROUND_2_SPRAY_ELEMENT_S <= 1980UL * WASH_P1_ROUND_2_FILL_S, "WASH_P1_ROUND_2_FILL_S, WASH_P1_ROUND_2_HEAT_S: so little water gets hotter than was proven");
WASH_ASSERT(WASH_P1_ROUND_2_HEAT_S <= 1500U, "WASH_P1_ROUND_2_HEAT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P1_ROUND_2_SPRAY_ELEMENT_S <= 480U, "WASH_P1_ROUND_2_SPRAY_ELEMENT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P1_ROUND_2_SPRAY_ELEMENT_S <= WASH_P1_ROUND_2_SPRAY_S, "WASH_P1_ROUND_2_SPRAY_ELEMENT_S, WASH_P1_ROUND_2_SPRAY_S: element on after the spray");
WASH_ASSERT(1UL * WASH_P1_ROUND_2_SPRAY_ELEMENT_S + 1UL * WASH_ELEMENT_REST_S <= 1UL * WASH_P1_ROUND_2_SPRAY_S + 1UL * WASH_P1_GAP_S + WASH_PHASE_S(P1, WASH_P1_ROUND_2_REST_S), "WASH_P1_ROUND_2_REST_S, WASH_P1_ROUND_2_SPRAY_S, WASH_P1_GAP_S, WASH_ELEMENT_REST_S: the element would be hot when the water leaves");
WASH_ASSERT(WASH_P1_ROUND_2_SETPOINT_DC == 0U, "WASH_P1_ROUND_2_SETPOINT_DC: no sensor stops the element here");
WASH_ASSERT(WASH_P1_ROUND_2_SPRAY_S >= 1U, "WASH_P1_ROUND_2_SPRAY_S: a round has to spray for so long");
WASH_ASSERT(WASH_P1_ROUND_2_SPRAY_S <= 4946U, "WASH_P1_ROUND_2_SPRAY_S: longer than the goal allows");
WASH_ASSERT(WASH_P1_ROUND_2_REST_S <= 3600U, "WASH_P1_ROUND_2_REST_S: longer than the goal lets the ware soak, and no spray follows before the drain");
WASH_ASSERT(WASH_P1_ROUND_2_SOAK_S == 0U, "WASH_P1_ROUND_2_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_P1_ROUND_2_REST_S <= 3766U, "WASH_P1_ROUND_2_REST_S: longer than the goal allows");
WASH_ASSERT(WASH_P1_ROUND_2_DRAIN_S >= 55U, "WASH_P1_ROUND_2_DRAIN_S: too short to empty the tank");
WASH_ASSERT(WASH_P1_ROUND_2_DRAIN_S <= 300U, "WASH_P1_ROUND_2_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_P1_ROUND_2_TOP_UP_S == 0U, "WASH_P1_ROUND_2_TOP_UP_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P1_ROUND_2_MIX_S == 0U, "WASH_P1_ROUND_2_MIX_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P1_ROUND_2_DETERGENT_DG >= 288U, "WASH_P1_ROUND_2_DETERGENT_DG: too little detergent for so much water");
WASH_ASSERT(WASH_P1_ROUND_2_DETERGENT_DG <= 688U, "WASH_P1_ROUND_2_DETERGENT_DG: too much detergent for so little water");
WASH_ASSERT(303UL * WASH_P1_ROUND_2_FILL_S + 28800UL <= 100UL * WASH_P1_ROUND_2_DETERGENT_DG + 29088UL, "WASH_P1_ROUND_2_FILL_S, WASH_P1_ROUND_2_DETERGENT_DG: too little detergent for so much water");
WASH_ASSERT(100UL * WASH_P1_ROUND_2_DETERGENT_DG + 64032UL <= 667UL * WASH_P1_ROUND_2_FILL_S + 68800UL, "WASH_P1_ROUND_2_FILL_S, WASH_P1_ROUND_2_DETERGENT_DG: too much detergent for so little water");
WASH_ASSERT(WASH_P1_ROUND_3_FILL_S >= 74U, "WASH_P1_ROUND_3_FILL_S: element or pump suction not covered under 74 s");
WASH_ASSERT(WASH_P1_ROUND_3_FILL_S <= 239U, "WASH_P1_ROUND_3_FILL_S: the tank may run over after 239 s");
WASH_ASSERT(47UL * WASH_P1_ROUND_3_FILL_S <= 84UL * WASH_P1_ROUND_3_DRAIN_S, "WASH_P1_ROUND_3_FILL_S, WASH_P1_ROUND_3_DRAIN_S: so much water asks for a longer drain");
WASH_ASSERT(WASH_P1_ROUND_3_HEAT_S <= 0U, "WASH_P1_ROUND_3_HEAT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P1_ROUND_3_SPRAY_ELEMENT_S <= 0U, "WASH_P1_ROUND_3_SPRAY_ELEMENT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P1_ROUND_3_SETPOINT_DC == 0U, "WASH_P1_ROUND_3_SETPOINT_DC: no sensor stops the element here");
WASH_ASSERT(WASH_P1_ROUND_3_SPRAY_S >= 120U, "WASH_P1_ROUND_3_SPRAY_S: a round has to spray for so long");
WASH_ASSERT(WASH_P1_ROUND_3_SPRAY_S <= 3866U, "WASH_P1_ROUND_3_SPRAY_S: longer than the goal allows");
WASH_ASSERT(WASH_P1_ROUND_3_SOAK_S == 0U, "WASH_P1_ROUND_3_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_P1_ROUND_3_REST_S <= 3744U, "WASH_P1_ROUND_3_REST_S: longer than the goal allows");
WASH_ASSERT(WASH_P1_ROUND_3_DRAIN_S >= 47U, "WASH_P1_ROUND_3_DRAIN_S: too short to empty the tank");
WASH_ASSERT(WASH_P1_ROUND_3_DRAIN_S <= 300U, "WASH_P1_ROUND_3_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_P1_ROUND_3_TOP_UP_S == 0U, "WASH_P1_ROUND_3_TOP_UP_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P1_ROUND_3_MIX_S == 0U, "WASH_P1_ROUND_3_MIX_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P1_ROUND_3_DETERGENT_DG == 0U, "WASH_P1_ROUND_3_DETERGENT_DG: detergent goes into a wash only");
WASH_ASSERT(WASH_P1_ROUND_4_FILL_S >= 84U, "WASH_P1_ROUND_4_FILL_S: element or pump suction not covered under 84 s");
WASH_ASSERT(WASH_P1_ROUND_4_FILL_S <= 239U, "WASH_P1_ROUND_4_FILL_S: the tank may run over after 239 s");
WASH_ASSERT(48UL * WASH_P1_ROUND_4_FILL_S <= 84UL * WASH_P1_ROUND_4_DRAIN_S, "WASH_P1_ROUND_4_FILL_S, WASH_P1_ROUND_4_DRAIN_S: so much water asks for a longer drain");
WASH_ASSERT(84UL * WASH_P1_ROUND_4_HEAT_S + 84UL * WASH_P1_ROUND_4_SPRAY_ELEMENT_S <= 1440UL * WASH_P1_ROUND_4_FILL_S, "WASH_P1_ROUND_4_FILL_S, WASH_P1_ROUND_4_HEAT_S: so little water gets hotter than was proven");
WASH_ASSERT(WASH_P1_ROUND_4_HEAT_S <= 1320U, "WASH_P1_ROUND_4_HEAT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P1_ROUND_4_SPRAY_ELEMENT_S <= 120U, "WASH_P1_ROUND_4_SPRAY_ELEMENT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P1_ROUND_4_SPRAY_ELEMENT_S <= WASH_P1_ROUND_4_SPRAY_S, "WASH_P1_ROUND_4_SPRAY_ELEMENT_S, WASH_P1_ROUND_4_SPRAY_S: element on after the spray");
WASH_ASSERT(1UL * WASH_P1_ROUND_4_SPRAY_ELEMENT_S + 1UL * WASH_ELEMENT_REST_S <= 1UL * WASH_P1_ROUND_4_SPRAY_S + 1UL * WASH_P1_GAP_S + WASH_PHASE_S(P1, WASH_P1_ROUND_4_REST_S), "WASH_P1_ROUND_4_REST_S, WASH_P1_ROUND_4_SPRAY_S, WASH_P1_GAP_S, WASH_ELEMENT_REST_S: the element would be hot when the water leaves");
WASH_ASSERT(WASH_P1_ROUND_4_SETPOINT_DC == 0U, "WASH_P1_ROUND_4_SETPOINT_DC: no sensor stops the element here");
WASH_ASSERT(WASH_P1_ROUND_4_SPRAY_S >= 120U, "WASH_P1_ROUND_4_SPRAY_S: a round has to spray for so long");
WASH_ASSERT(WASH_P1_ROUND_4_SPRAY_S <= 3986U, "WASH_P1_ROUND_4_SPRAY_S: longer than the goal allows");
WASH_ASSERT(WASH_P1_ROUND_4_SOAK_S == 0U, "WASH_P1_ROUND_4_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_P1_ROUND_4_REST_S <= 3766U, "WASH_P1_ROUND_4_REST_S: longer than the goal allows");
WASH_ASSERT(WASH_P1_ROUND_4_DRAIN_S >= 48U, "WASH_P1_ROUND_4_DRAIN_S: too short to empty the tank");
WASH_ASSERT(WASH_P1_ROUND_4_DRAIN_S <= 300U, "WASH_P1_ROUND_4_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_P1_ROUND_4_TOP_UP_S == 0U, "WASH_P1_ROUND_4_TOP_UP_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P1_ROUND_4_MIX_S == 0U, "WASH_P1_ROUND_4_MIX_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P1_ROUND_4_DETERGENT_DG == 0U, "WASH_P1_ROUND_4_DETERGENT_DG: detergent goes into a wash only");
WASH_ASSERT(1UL * WASH_DRAIN_WAIT_S <= 1000000UL, "WASH_DRAIN_WAIT_S: milliseconds of so long a wait overrun a controller's clock");
WASH_ASSERT(WASH_DRAIN_MAX_DC <= 1200U, "WASH_DRAIN_MAX_DC: the drain pipe does not stand what may be in the tank");
WASH_ASSERT(WASH_DRAIN_STOP_DC == 1200U, "WASH_DRAIN_STOP_DC: the pipe's limit plus what the sensor may err; below it a sound run would be stopped");
WASH_ASSERT(WASH_FILL_IS_COLD <= 1U, "WASH_FILL_IS_COLD: the inlet scalds, or is too hot for the drain pipe");
WASH_ASSERT(WASH_SENSOR_MOVES_S >= 284U, "WASH_SENSOR_MOVES_S: a sound sensor would count as stuck");
WASH_ASSERT(WASH_SENSOR_MOVES_S <= 600U, "WASH_SENSOR_MOVES_S: a sensor that is stuck would not be found");
WASH_ASSERT(WASH_ELEMENT_REST_S >= 20U, "WASH_ELEMENT_REST_S: not what was measured, plan again");
WASH_ASSERT(WASH_ELEMENT_MA >= 4083U, "WASH_ELEMENT_MA: not what was measured, plan again");
WASH_ASSERT(WASH_PUMP_MA >= 643U, "WASH_PUMP_MA: not what was measured, plan again");
WASH_ASSERT(WASH_DRAIN_MA >= 113U, "WASH_DRAIN_MA: not what was measured, plan again");
WASH_ASSERT(1UL * WASH_ELEMENT_REST_S <= 65535UL, "WASH_ELEMENT_REST_S: more than 16 bits hold");
WASH_ASSERT(WASH_CIRCUIT_MA <= 5486U, "WASH_CIRCUIT_MA: not what was measured, plan again");
WASH_ASSERT(1UL * WASH_ELEMENT_MA + 1UL * WASH_PUMP_MA <= WASH_CIRCUIT_MA, "WASH_ELEMENT_MA and WASH_PUMP_MA: more than the circuit leaves, WASH_CIRCUIT_MA");
WASH_ASSERT(WASH_DRAIN_MA <= WASH_CIRCUIT_MA, "WASH_DRAIN_MA: more than the circuit leaves, WASH_CIRCUIT_MA");
WASH_ASSERT(1UL * WASH_P1_START_DRAIN_S + WASH_ROUND_LENGTH_S(P1, 1) + WASH_ROUND_LENGTH_S(P1, 2) + WASH_ROUND_LENGTH_S(P1, 3) + WASH_ROUND_LENGTH_S(P1, 4) + 1UL * WASH_P1_STAND_S <= 10200U, "all phases from WASH_P1_START_DRAIN_S to WASH_P1_STAND_S: longer than the goal allows");
WASH_ASSERT(WASH_P1_ROUND_1_ELEMENT_MAX_S <= 0U, "WASH_P1_ROUND_1_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_P1_ROUND_1_HEAT_S + 1UL * WASH_P1_ROUND_1_SPRAY_ELEMENT_S == WASH_P1_ROUND_1_ELEMENT_MAX_S, "WASH_P1_ROUND_1_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ROUND_2_ELEMENT_MAX_S <= 1980U, "WASH_P1_ROUND_2_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_P1_ROUND_2_HEAT_S + 1UL * WASH_P1_ROUND_2_SPRAY_ELEMENT_S == WASH_P1_ROUND_2_ELEMENT_MAX_S, "WASH_P1_ROUND_2_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ROUND_3_ELEMENT_MAX_S <= 0U, "WASH_P1_ROUND_3_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_P1_ROUND_3_HEAT_S + 1UL * WASH_P1_ROUND_3_SPRAY_ELEMENT_S == WASH_P1_ROUND_3_ELEMENT_MAX_S, "WASH_P1_ROUND_3_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ROUND_4_ELEMENT_MAX_S <= 1440U, "WASH_P1_ROUND_4_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_P1_ROUND_4_HEAT_S + 1UL * WASH_P1_ROUND_4_SPRAY_ELEMENT_S == WASH_P1_ROUND_4_ELEMENT_MAX_S, "WASH_P1_ROUND_4_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ELEMENT_MAX_S <= 1980U, "WASH_P1_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(WASH_P1_FILL_MAX_S <= 239U, "WASH_P1_FILL_MAX_S: the inlet may be open for too long");
WASH_ASSERT(WASH_P1_DRAIN_MIN_S >= 30U, "WASH_P1_DRAIN_MIN_S: a drain may not be so short");
WASH_ASSERT(WASH_P1_ROUND_1_ELEMENT_MAX_S <= WASH_P1_ELEMENT_MAX_S, "WASH_P1_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ROUND_2_ELEMENT_MAX_S <= WASH_P1_ELEMENT_MAX_S, "WASH_P1_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ROUND_3_ELEMENT_MAX_S <= WASH_P1_ELEMENT_MAX_S, "WASH_P1_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ROUND_4_ELEMENT_MAX_S <= WASH_P1_ELEMENT_MAX_S, "WASH_P1_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ELEMENT_MAX_S == WASH_P1_ROUND_1_ELEMENT_MAX_S || WASH_P1_ELEMENT_MAX_S == WASH_P1_ROUND_2_ELEMENT_MAX_S || WASH_P1_ELEMENT_MAX_S == WASH_P1_ROUND_3_ELEMENT_MAX_S || WASH_P1_ELEMENT_MAX_S == WASH_P1_ROUND_4_ELEMENT_MAX_S, "WASH_P1_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ROUND_1_FILL_S <= WASH_P1_FILL_MAX_S, "WASH_P1_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ROUND_1_TOP_UP_S <= WASH_P1_FILL_MAX_S, "WASH_P1_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ROUND_2_FILL_S <= WASH_P1_FILL_MAX_S, "WASH_P1_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ROUND_2_TOP_UP_S <= WASH_P1_FILL_MAX_S, "WASH_P1_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ROUND_3_FILL_S <= WASH_P1_FILL_MAX_S, "WASH_P1_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ROUND_3_TOP_UP_S <= WASH_P1_FILL_MAX_S, "WASH_P1_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ROUND_4_FILL_S <= WASH_P1_FILL_MAX_S, "WASH_P1_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ROUND_4_TOP_UP_S <= WASH_P1_FILL_MAX_S, "WASH_P1_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_FILL_MAX_S == WASH_P1_ROUND_1_FILL_S || WASH_P1_FILL_MAX_S == WASH_P1_ROUND_1_TOP_UP_S || WASH_P1_FILL_MAX_S == WASH_P1_ROUND_2_FILL_S || WASH_P1_FILL_MAX_S == WASH_P1_ROUND_2_TOP_UP_S || WASH_P1_FILL_MAX_S == WASH_P1_ROUND_3_FILL_S || WASH_P1_FILL_MAX_S == WASH_P1_ROUND_3_TOP_UP_S || WASH_P1_FILL_MAX_S == WASH_P1_ROUND_4_FILL_S || WASH_P1_FILL_MAX_S == WASH_P1_ROUND_4_TOP_UP_S, "WASH_P1_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_START_DRAIN_S >= WASH_P1_DRAIN_MIN_S, "WASH_P1_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ROUND_1_DRAIN_S >= WASH_P1_DRAIN_MIN_S, "WASH_P1_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ROUND_2_DRAIN_S >= WASH_P1_DRAIN_MIN_S, "WASH_P1_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ROUND_3_DRAIN_S >= WASH_P1_DRAIN_MIN_S, "WASH_P1_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_ROUND_4_DRAIN_S >= WASH_P1_DRAIN_MIN_S, "WASH_P1_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_DRAIN_MIN_S == WASH_P1_START_DRAIN_S || WASH_P1_DRAIN_MIN_S == WASH_P1_ROUND_1_DRAIN_S || WASH_P1_DRAIN_MIN_S == WASH_P1_ROUND_2_DRAIN_S || WASH_P1_DRAIN_MIN_S == WASH_P1_ROUND_3_DRAIN_S || WASH_P1_DRAIN_MIN_S == WASH_P1_ROUND_4_DRAIN_S, "WASH_P1_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(1UL * WASH_P1_START_DRAIN_S + WASH_ROUND_LENGTH_S(P1, 1) + WASH_ROUND_LENGTH_S(P1, 2) + WASH_ROUND_LENGTH_S(P1, 3) + WASH_ROUND_LENGTH_S(P1, 4) + 1UL * WASH_P1_STAND_S == WASH_P1_TOTAL_MAX_S, "WASH_P1_TOTAL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P1_TOTAL_MAX_S <= 10200U, "WASH_P1_TOTAL_MAX_S: longer than it may take");

/* Limits of programme 2 */
WASH_ASSERT(WASH_P2_BENCH_RUN == 0U, "WASH_P2_BENCH_RUN: the controller would take the table for another, plan again");
WASH_ASSERT(WASH_P2_ROUNDS == 3U, "WASH_P2_ROUNDS: the controller would take the table for another, plan again");
WASH_ASSERT(WASH_P2_ROUND_1_KIND == 1U, "WASH_P2_ROUND_1_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_P2_ROUND_2_KIND == 2U, "WASH_P2_ROUND_2_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_P2_ROUND_3_KIND == 2U, "WASH_P2_ROUND_3_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_P2_START_DRAIN_S >= 30U, "WASH_P2_START_DRAIN_S: a tank that a power cut left full is not emptied");
WASH_ASSERT(WASH_P2_START_DRAIN_S <= 300U, "WASH_P2_START_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_P2_RESTART_AFTER_CUT <= 1U, "WASH_P2_RESTART_AFTER_CUT: 0 or 1");
WASH_ASSERT(WASH_P2_GAP_S >= 1U, "WASH_P2_GAP_S: two motors would start together");
WASH_ASSERT(WASH_P2_GAP_S <= 338U, "WASH_P2_GAP_S: longer than the goal allows");
WASH_ASSERT(WASH_P2_AFTER_SOAK_S == 0U, "WASH_P2_AFTER_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_P2_STAND_S >= 1200U, "WASH_P2_STAND_S: shorter than the goal asks");
WASH_ASSERT(WASH_P2_STAND_S <= 5859U, "WASH_P2_STAND_S: longer than the goal allows");
WASH_ASSERT(WASH_P2_LID_OPEN_AFTER_S >= 120U, "WASH_P2_LID_OPEN_AFTER_S: steam comes out as the lid opens");
WASH_ASSERT(WASH_P2_LID_OPEN_AFTER_S <= 1500U, "WASH_P2_LID_OPEN_AFTER_S: the load dries with the lid ajar");
WASH_ASSERT(WASH_P2_HYSTERESIS_DK == 0U, "WASH_P2_HYSTERESIS_DK: a timed element has none");
WASH_ASSERT(WASH_P2_BATH_MAX_DC == 0U, "WASH_P2_BATH_MAX_DC: nothing reads the bath");
WASH_ASSERT(WASH_P2_ROUND_1_FILL_S >= 96U, "WASH_P2_ROUND_1_FILL_S: element or pump suction not covered under 96 s");
WASH_ASSERT(WASH_P2_ROUND_1_FILL_S <= 239U, "WASH_P2_ROUND_1_FILL_S: the tank may run over after 239 s");
WASH_ASSERT(55UL * WASH_P2_ROUND_1_FILL_S <= 96UL * WASH_P2_ROUND_1_DRAIN_S, "WASH_P2_ROUND_1_FILL_S, WASH_P2_ROUND_1_DRAIN_S: so much water asks for a longer drain");
WASH_ASSERT(96UL * WASH_P2_ROUND_1_HEAT_S + 96UL * WASH_P2_ROUND_1_SPRAY_ELEMENT_S <= 1380UL * WASH_P2_ROUND_1_FILL_S, "WASH_P2_ROUND_1_FILL_S, WASH_P2_ROUND_1_HEAT_S: so little water gets hotter than was proven");
WASH_ASSERT(WASH_P2_ROUND_1_HEAT_S <= 900U, "WASH_P2_ROUND_1_HEAT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P2_ROUND_1_SPRAY_ELEMENT_S <= 480U, "WASH_P2_ROUND_1_SPRAY_ELEMENT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P2_ROUND_1_SPRAY_ELEMENT_S <= WASH_P2_ROUND_1_SPRAY_S, "WASH_P2_ROUND_1_SPRAY_ELEMENT_S, WASH_P2_ROUND_1_SPRAY_S: element on after the spray");
WASH_ASSERT(1UL * WASH_P2_ROUND_1_SPRAY_ELEMENT_S + 1UL * WASH_ELEMENT_REST_S <= 1UL * WASH_P2_ROUND_1_SPRAY_S + 1UL * WASH_P2_GAP_S + WASH_PHASE_S(P2, WASH_P2_ROUND_1_REST_S), "WASH_P2_ROUND_1_REST_S, WASH_P2_ROUND_1_SPRAY_S, WASH_P2_GAP_S, WASH_ELEMENT_REST_S: the element would be hot when the water leaves");
WASH_ASSERT(WASH_P2_ROUND_1_SETPOINT_DC == 0U, "WASH_P2_ROUND_1_SETPOINT_DC: no sensor stops the element here");
WASH_ASSERT(WASH_P2_ROUND_1_SPRAY_S >= 1U, "WASH_P2_ROUND_1_SPRAY_S: a round has to spray for so long");
WASH_ASSERT(WASH_P2_ROUND_1_SPRAY_S <= 5559U, "WASH_P2_ROUND_1_SPRAY_S: longer than the goal allows");
WASH_ASSERT(WASH_P2_ROUND_1_REST_S <= 3600U, "WASH_P2_ROUND_1_REST_S: longer than the goal lets the ware soak, and no spray follows before the drain");
WASH_ASSERT(WASH_P2_ROUND_1_SOAK_S == 0U, "WASH_P2_ROUND_1_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_P2_ROUND_1_REST_S <= 4389U, "WASH_P2_ROUND_1_REST_S: longer than the goal allows");
WASH_ASSERT(WASH_P2_ROUND_1_DRAIN_S >= 55U, "WASH_P2_ROUND_1_DRAIN_S: too short to empty the tank");
WASH_ASSERT(WASH_P2_ROUND_1_DRAIN_S <= 300U, "WASH_P2_ROUND_1_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_P2_ROUND_1_TOP_UP_S == 0U, "WASH_P2_ROUND_1_TOP_UP_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P2_ROUND_1_MIX_S == 0U, "WASH_P2_ROUND_1_MIX_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P2_ROUND_1_DETERGENT_DG >= 288U, "WASH_P2_ROUND_1_DETERGENT_DG: too little detergent for so much water");
WASH_ASSERT(WASH_P2_ROUND_1_DETERGENT_DG <= 640U, "WASH_P2_ROUND_1_DETERGENT_DG: too much detergent for so little water");
WASH_ASSERT(303UL * WASH_P2_ROUND_1_FILL_S + 28800UL <= 100UL * WASH_P2_ROUND_1_DETERGENT_DG + 29088UL, "WASH_P2_ROUND_1_FILL_S, WASH_P2_ROUND_1_DETERGENT_DG: too little detergent for so much water");
WASH_ASSERT(100UL * WASH_P2_ROUND_1_DETERGENT_DG + 64032UL <= 667UL * WASH_P2_ROUND_1_FILL_S + 64000UL, "WASH_P2_ROUND_1_FILL_S, WASH_P2_ROUND_1_DETERGENT_DG: too much detergent for so little water");
WASH_ASSERT(WASH_P2_ROUND_2_FILL_S >= 74U, "WASH_P2_ROUND_2_FILL_S: element or pump suction not covered under 74 s");
WASH_ASSERT(WASH_P2_ROUND_2_FILL_S <= 239U, "WASH_P2_ROUND_2_FILL_S: the tank may run over after 239 s");
WASH_ASSERT(47UL * WASH_P2_ROUND_2_FILL_S <= 84UL * WASH_P2_ROUND_2_DRAIN_S, "WASH_P2_ROUND_2_FILL_S, WASH_P2_ROUND_2_DRAIN_S: so much water asks for a longer drain");
WASH_ASSERT(WASH_P2_ROUND_2_HEAT_S <= 0U, "WASH_P2_ROUND_2_HEAT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P2_ROUND_2_SPRAY_ELEMENT_S <= 0U, "WASH_P2_ROUND_2_SPRAY_ELEMENT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P2_ROUND_2_SETPOINT_DC == 0U, "WASH_P2_ROUND_2_SETPOINT_DC: no sensor stops the element here");
WASH_ASSERT(WASH_P2_ROUND_2_SPRAY_S >= 120U, "WASH_P2_ROUND_2_SPRAY_S: a round has to spray for so long");
WASH_ASSERT(WASH_P2_ROUND_2_SPRAY_S <= 4479U, "WASH_P2_ROUND_2_SPRAY_S: longer than the goal allows");
WASH_ASSERT(WASH_P2_ROUND_2_SOAK_S == 0U, "WASH_P2_ROUND_2_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_P2_ROUND_2_REST_S <= 4356U, "WASH_P2_ROUND_2_REST_S: longer than the goal allows");
WASH_ASSERT(WASH_P2_ROUND_2_DRAIN_S >= 47U, "WASH_P2_ROUND_2_DRAIN_S: too short to empty the tank");
WASH_ASSERT(WASH_P2_ROUND_2_DRAIN_S <= 300U, "WASH_P2_ROUND_2_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_P2_ROUND_2_TOP_UP_S == 0U, "WASH_P2_ROUND_2_TOP_UP_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P2_ROUND_2_MIX_S == 0U, "WASH_P2_ROUND_2_MIX_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P2_ROUND_2_DETERGENT_DG == 0U, "WASH_P2_ROUND_2_DETERGENT_DG: detergent goes into a wash only");
WASH_ASSERT(WASH_P2_ROUND_3_FILL_S >= 84U, "WASH_P2_ROUND_3_FILL_S: element or pump suction not covered under 84 s");
WASH_ASSERT(WASH_P2_ROUND_3_FILL_S <= 239U, "WASH_P2_ROUND_3_FILL_S: the tank may run over after 239 s");
WASH_ASSERT(48UL * WASH_P2_ROUND_3_FILL_S <= 84UL * WASH_P2_ROUND_3_DRAIN_S, "WASH_P2_ROUND_3_FILL_S, WASH_P2_ROUND_3_DRAIN_S: so much water asks for a longer drain");
WASH_ASSERT(84UL * WASH_P2_ROUND_3_HEAT_S + 84UL * WASH_P2_ROUND_3_SPRAY_ELEMENT_S <= 1440UL * WASH_P2_ROUND_3_FILL_S, "WASH_P2_ROUND_3_FILL_S, WASH_P2_ROUND_3_HEAT_S: so little water gets hotter than was proven");
WASH_ASSERT(WASH_P2_ROUND_3_HEAT_S <= 1320U, "WASH_P2_ROUND_3_HEAT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P2_ROUND_3_SPRAY_ELEMENT_S <= 120U, "WASH_P2_ROUND_3_SPRAY_ELEMENT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P2_ROUND_3_SPRAY_ELEMENT_S <= WASH_P2_ROUND_3_SPRAY_S, "WASH_P2_ROUND_3_SPRAY_ELEMENT_S, WASH_P2_ROUND_3_SPRAY_S: element on after the spray");
WASH_ASSERT(1UL * WASH_P2_ROUND_3_SPRAY_ELEMENT_S + 1UL * WASH_ELEMENT_REST_S <= 1UL * WASH_P2_ROUND_3_SPRAY_S + 1UL * WASH_P2_GAP_S + WASH_PHASE_S(P2, WASH_P2_ROUND_3_REST_S), "WASH_P2_ROUND_3_REST_S, WASH_P2_ROUND_3_SPRAY_S, WASH_P2_GAP_S, WASH_ELEMENT_REST_S: the element would be hot when the water leaves");
WASH_ASSERT(WASH_P2_ROUND_3_SETPOINT_DC == 0U, "WASH_P2_ROUND_3_SETPOINT_DC: no sensor stops the element here");
WASH_ASSERT(WASH_P2_ROUND_3_SPRAY_S >= 120U, "WASH_P2_ROUND_3_SPRAY_S: a round has to spray for so long");
WASH_ASSERT(WASH_P2_ROUND_3_SPRAY_S <= 4599U, "WASH_P2_ROUND_3_SPRAY_S: longer than the goal allows");
WASH_ASSERT(WASH_P2_ROUND_3_SOAK_S == 0U, "WASH_P2_ROUND_3_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_P2_ROUND_3_REST_S <= 4379U, "WASH_P2_ROUND_3_REST_S: longer than the goal allows");
WASH_ASSERT(WASH_P2_ROUND_3_DRAIN_S >= 48U, "WASH_P2_ROUND_3_DRAIN_S: too short to empty the tank");
WASH_ASSERT(WASH_P2_ROUND_3_DRAIN_S <= 300U, "WASH_P2_ROUND_3_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_P2_ROUND_3_TOP_UP_S == 0U, "WASH_P2_ROUND_3_TOP_UP_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P2_ROUND_3_MIX_S == 0U, "WASH_P2_ROUND_3_MIX_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P2_ROUND_3_DETERGENT_DG == 0U, "WASH_P2_ROUND_3_DETERGENT_DG: detergent goes into a wash only");
WASH_ASSERT(1UL * WASH_P2_START_DRAIN_S + WASH_ROUND_LENGTH_S(P2, 1) + WASH_ROUND_LENGTH_S(P2, 2) + WASH_ROUND_LENGTH_S(P2, 3) + 1UL * WASH_P2_STAND_S <= 10200U, "all phases from WASH_P2_START_DRAIN_S to WASH_P2_STAND_S: longer than the goal allows");
WASH_ASSERT(WASH_P2_ROUND_1_ELEMENT_MAX_S <= 1380U, "WASH_P2_ROUND_1_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_P2_ROUND_1_HEAT_S + 1UL * WASH_P2_ROUND_1_SPRAY_ELEMENT_S == WASH_P2_ROUND_1_ELEMENT_MAX_S, "WASH_P2_ROUND_1_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_ROUND_2_ELEMENT_MAX_S <= 0U, "WASH_P2_ROUND_2_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_P2_ROUND_2_HEAT_S + 1UL * WASH_P2_ROUND_2_SPRAY_ELEMENT_S == WASH_P2_ROUND_2_ELEMENT_MAX_S, "WASH_P2_ROUND_2_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_ROUND_3_ELEMENT_MAX_S <= 1440U, "WASH_P2_ROUND_3_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_P2_ROUND_3_HEAT_S + 1UL * WASH_P2_ROUND_3_SPRAY_ELEMENT_S == WASH_P2_ROUND_3_ELEMENT_MAX_S, "WASH_P2_ROUND_3_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_ELEMENT_MAX_S <= 1440U, "WASH_P2_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(WASH_P2_FILL_MAX_S <= 239U, "WASH_P2_FILL_MAX_S: the inlet may be open for too long");
WASH_ASSERT(WASH_P2_DRAIN_MIN_S >= 30U, "WASH_P2_DRAIN_MIN_S: a drain may not be so short");
WASH_ASSERT(WASH_P2_ROUND_1_ELEMENT_MAX_S <= WASH_P2_ELEMENT_MAX_S, "WASH_P2_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_ROUND_2_ELEMENT_MAX_S <= WASH_P2_ELEMENT_MAX_S, "WASH_P2_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_ROUND_3_ELEMENT_MAX_S <= WASH_P2_ELEMENT_MAX_S, "WASH_P2_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_ELEMENT_MAX_S == WASH_P2_ROUND_1_ELEMENT_MAX_S || WASH_P2_ELEMENT_MAX_S == WASH_P2_ROUND_2_ELEMENT_MAX_S || WASH_P2_ELEMENT_MAX_S == WASH_P2_ROUND_3_ELEMENT_MAX_S, "WASH_P2_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_ROUND_1_FILL_S <= WASH_P2_FILL_MAX_S, "WASH_P2_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_ROUND_1_TOP_UP_S <= WASH_P2_FILL_MAX_S, "WASH_P2_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_ROUND_2_FILL_S <= WASH_P2_FILL_MAX_S, "WASH_P2_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_ROUND_2_TOP_UP_S <= WASH_P2_FILL_MAX_S, "WASH_P2_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_ROUND_3_FILL_S <= WASH_P2_FILL_MAX_S, "WASH_P2_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_ROUND_3_TOP_UP_S <= WASH_P2_FILL_MAX_S, "WASH_P2_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_FILL_MAX_S == WASH_P2_ROUND_1_FILL_S || WASH_P2_FILL_MAX_S == WASH_P2_ROUND_1_TOP_UP_S || WASH_P2_FILL_MAX_S == WASH_P2_ROUND_2_FILL_S || WASH_P2_FILL_MAX_S == WASH_P2_ROUND_2_TOP_UP_S || WASH_P2_FILL_MAX_S == WASH_P2_ROUND_3_FILL_S || WASH_P2_FILL_MAX_S == WASH_P2_ROUND_3_TOP_UP_S, "WASH_P2_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_START_DRAIN_S >= WASH_P2_DRAIN_MIN_S, "WASH_P2_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_ROUND_1_DRAIN_S >= WASH_P2_DRAIN_MIN_S, "WASH_P2_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_ROUND_2_DRAIN_S >= WASH_P2_DRAIN_MIN_S, "WASH_P2_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_ROUND_3_DRAIN_S >= WASH_P2_DRAIN_MIN_S, "WASH_P2_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_DRAIN_MIN_S == WASH_P2_START_DRAIN_S || WASH_P2_DRAIN_MIN_S == WASH_P2_ROUND_1_DRAIN_S || WASH_P2_DRAIN_MIN_S == WASH_P2_ROUND_2_DRAIN_S || WASH_P2_DRAIN_MIN_S == WASH_P2_ROUND_3_DRAIN_S, "WASH_P2_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(1UL * WASH_P2_START_DRAIN_S + WASH_ROUND_LENGTH_S(P2, 1) + WASH_ROUND_LENGTH_S(P2, 2) + WASH_ROUND_LENGTH_S(P2, 3) + 1UL * WASH_P2_STAND_S == WASH_P2_TOTAL_MAX_S, "WASH_P2_TOTAL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P2_TOTAL_MAX_S <= 10200U, "WASH_P2_TOTAL_MAX_S: longer than it may take");

/* Limits of programme 3 */
WASH_ASSERT(WASH_P3_BENCH_RUN == 0U, "WASH_P3_BENCH_RUN: the controller would take the table for another, plan again");
WASH_ASSERT(WASH_P3_ROUNDS == 4U, "WASH_P3_ROUNDS: the controller would take the table for another, plan again");
WASH_ASSERT(WASH_P3_ROUND_1_KIND == 0U, "WASH_P3_ROUND_1_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_P3_ROUND_2_KIND == 1U, "WASH_P3_ROUND_2_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_P3_ROUND_3_KIND == 2U, "WASH_P3_ROUND_3_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_P3_ROUND_4_KIND == 2U, "WASH_P3_ROUND_4_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_P3_START_DRAIN_S >= 30U, "WASH_P3_START_DRAIN_S: a tank that a power cut left full is not emptied");
WASH_ASSERT(WASH_P3_START_DRAIN_S <= 300U, "WASH_P3_START_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_P3_RESTART_AFTER_CUT <= 1U, "WASH_P3_RESTART_AFTER_CUT: 0 or 1");
WASH_ASSERT(WASH_P3_GAP_S >= 1U, "WASH_P3_GAP_S: two motors would start together");
WASH_ASSERT(WASH_P3_GAP_S <= 563U, "WASH_P3_GAP_S: longer than the goal allows");
WASH_ASSERT(WASH_P3_AFTER_SOAK_S == 0U, "WASH_P3_AFTER_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_P3_STAND_S >= 1200U, "WASH_P3_STAND_S: shorter than the goal asks");
WASH_ASSERT(WASH_P3_STAND_S <= 7934U, "WASH_P3_STAND_S: longer than the goal allows");
WASH_ASSERT(WASH_P3_LID_OPEN_AFTER_S >= 120U, "WASH_P3_LID_OPEN_AFTER_S: steam comes out as the lid opens");
WASH_ASSERT(WASH_P3_LID_OPEN_AFTER_S <= 1200U, "WASH_P3_LID_OPEN_AFTER_S: the load dries with the lid ajar");
WASH_ASSERT(WASH_P3_HYSTERESIS_DK == 0U, "WASH_P3_HYSTERESIS_DK: a timed element has none");
WASH_ASSERT(WASH_P3_BATH_MAX_DC == 0U, "WASH_P3_BATH_MAX_DC: nothing reads the bath");
WASH_ASSERT(WASH_P3_ROUND_1_FILL_S >= 79U, "WASH_P3_ROUND_1_FILL_S: element or pump suction not covered under 79 s");
WASH_ASSERT(WASH_P3_ROUND_1_FILL_S <= 239U, "WASH_P3_ROUND_1_FILL_S: the tank may run over after 239 s");
WASH_ASSERT(50UL * WASH_P3_ROUND_1_FILL_S <= 90UL * WASH_P3_ROUND_1_DRAIN_S, "WASH_P3_ROUND_1_FILL_S, WASH_P3_ROUND_1_DRAIN_S: so much water asks for a longer drain");
WASH_ASSERT(WASH_P3_ROUND_1_HEAT_S <= 0U, "WASH_P3_ROUND_1_HEAT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P3_ROUND_1_SPRAY_ELEMENT_S <= 0U, "WASH_P3_ROUND_1_SPRAY_ELEMENT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P3_ROUND_1_SETPOINT_DC == 0U, "WASH_P3_ROUND_1_SETPOINT_DC: no sensor stops the element here");
WASH_ASSERT(WASH_P3_ROUND_1_SPRAY_S >= 120U, "WASH_P3_ROUND_1_SPRAY_S: a round has to spray for so long");
WASH_ASSERT(WASH_P3_ROUND_1_SPRAY_S <= 6914U, "WASH_P3_ROUND_1_SPRAY_S: longer than the goal allows");
WASH_ASSERT(WASH_P3_ROUND_1_SOAK_S == 0U, "WASH_P3_ROUND_1_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_P3_ROUND_1_REST_S <= 6732U, "WASH_P3_ROUND_1_REST_S: longer than the goal allows");
WASH_ASSERT(WASH_P3_ROUND_1_DRAIN_S >= 50U, "WASH_P3_ROUND_1_DRAIN_S: too short to empty the tank");
WASH_ASSERT(WASH_P3_ROUND_1_DRAIN_S <= 300U, "WASH_P3_ROUND_1_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_P3_ROUND_1_TOP_UP_S == 0U, "WASH_P3_ROUND_1_TOP_UP_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P3_ROUND_1_MIX_S == 0U, "WASH_P3_ROUND_1_MIX_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P3_ROUND_1_DETERGENT_DG == 0U, "WASH_P3_ROUND_1_DETERGENT_DG: detergent goes into a wash only");
WASH_ASSERT(WASH_P3_ROUND_2_FILL_S >= 74U, "WASH_P3_ROUND_2_FILL_S: element or pump suction not covered under 74 s");
WASH_ASSERT(WASH_P3_ROUND_2_FILL_S <= 239U, "WASH_P3_ROUND_2_FILL_S: the tank may run over after 239 s");
WASH_ASSERT(54UL * WASH_P3_ROUND_2_FILL_S <= 96UL * WASH_P3_ROUND_2_DRAIN_S, "WASH_P3_ROUND_2_FILL_S, WASH_P3_ROUND_2_DRAIN_S: so much water asks for a longer drain");
WASH_ASSERT(WASH_P3_ROUND_2_HEAT_S <= 0U, "WASH_P3_ROUND_2_HEAT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P3_ROUND_2_SPRAY_ELEMENT_S <= 0U, "WASH_P3_ROUND_2_SPRAY_ELEMENT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P3_ROUND_2_SETPOINT_DC == 0U, "WASH_P3_ROUND_2_SETPOINT_DC: no sensor stops the element here");
WASH_ASSERT(WASH_P3_ROUND_2_SPRAY_S >= 1U, "WASH_P3_ROUND_2_SPRAY_S: a round has to spray for so long");
WASH_ASSERT(WASH_P3_ROUND_2_SPRAY_S <= 7934U, "WASH_P3_ROUND_2_SPRAY_S: longer than the goal allows");
WASH_ASSERT(WASH_P3_ROUND_2_REST_S <= 3600U, "WASH_P3_ROUND_2_REST_S: longer than the goal lets the ware soak, and no spray follows before the drain");
WASH_ASSERT(WASH_P3_ROUND_2_SOAK_S == 0U, "WASH_P3_ROUND_2_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_P3_ROUND_2_REST_S <= 6732U, "WASH_P3_ROUND_2_REST_S: longer than the goal allows");
WASH_ASSERT(WASH_P3_ROUND_2_DRAIN_S >= 54U, "WASH_P3_ROUND_2_DRAIN_S: too short to empty the tank");
WASH_ASSERT(WASH_P3_ROUND_2_DRAIN_S <= 300U, "WASH_P3_ROUND_2_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_P3_ROUND_2_TOP_UP_S == 0U, "WASH_P3_ROUND_2_TOP_UP_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P3_ROUND_2_MIX_S == 0U, "WASH_P3_ROUND_2_MIX_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P3_ROUND_2_DETERGENT_DG >= 288U, "WASH_P3_ROUND_2_DETERGENT_DG: too little detergent for so much water");
WASH_ASSERT(WASH_P3_ROUND_2_DETERGENT_DG <= 688U, "WASH_P3_ROUND_2_DETERGENT_DG: too much detergent for so little water");
WASH_ASSERT(303UL * WASH_P3_ROUND_2_FILL_S + 28800UL <= 100UL * WASH_P3_ROUND_2_DETERGENT_DG + 29088UL, "WASH_P3_ROUND_2_FILL_S, WASH_P3_ROUND_2_DETERGENT_DG: too little detergent for so much water");
WASH_ASSERT(100UL * WASH_P3_ROUND_2_DETERGENT_DG + 64032UL <= 667UL * WASH_P3_ROUND_2_FILL_S + 68800UL, "WASH_P3_ROUND_2_FILL_S, WASH_P3_ROUND_2_DETERGENT_DG: too much detergent for so little water");
WASH_ASSERT(WASH_P3_ROUND_3_FILL_S >= 74U, "WASH_P3_ROUND_3_FILL_S: element or pump suction not covered under 74 s");
WASH_ASSERT(WASH_P3_ROUND_3_FILL_S <= 239U, "WASH_P3_ROUND_3_FILL_S: the tank may run over after 239 s");
WASH_ASSERT(47UL * WASH_P3_ROUND_3_FILL_S <= 84UL * WASH_P3_ROUND_3_DRAIN_S, "WASH_P3_ROUND_3_FILL_S, WASH_P3_ROUND_3_DRAIN_S: so much water asks for a longer drain");
WASH_ASSERT(WASH_P3_ROUND_3_HEAT_S <= 0U, "WASH_P3_ROUND_3_HEAT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P3_ROUND_3_SPRAY_ELEMENT_S <= 0U, "WASH_P3_ROUND_3_SPRAY_ELEMENT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P3_ROUND_3_SETPOINT_DC == 0U, "WASH_P3_ROUND_3_SETPOINT_DC: no sensor stops the element here");
WASH_ASSERT(WASH_P3_ROUND_3_SPRAY_S >= 120U, "WASH_P3_ROUND_3_SPRAY_S: a round has to spray for so long");
WASH_ASSERT(WASH_P3_ROUND_3_SPRAY_S <= 6854U, "WASH_P3_ROUND_3_SPRAY_S: longer than the goal allows");
WASH_ASSERT(WASH_P3_ROUND_3_SOAK_S == 0U, "WASH_P3_ROUND_3_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_P3_ROUND_3_REST_S <= 6732U, "WASH_P3_ROUND_3_REST_S: longer than the goal allows");
WASH_ASSERT(WASH_P3_ROUND_3_DRAIN_S >= 47U, "WASH_P3_ROUND_3_DRAIN_S: too short to empty the tank");
WASH_ASSERT(WASH_P3_ROUND_3_DRAIN_S <= 300U, "WASH_P3_ROUND_3_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_P3_ROUND_3_TOP_UP_S == 0U, "WASH_P3_ROUND_3_TOP_UP_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P3_ROUND_3_MIX_S == 0U, "WASH_P3_ROUND_3_MIX_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P3_ROUND_3_DETERGENT_DG == 0U, "WASH_P3_ROUND_3_DETERGENT_DG: detergent goes into a wash only");
WASH_ASSERT(WASH_P3_ROUND_4_FILL_S >= 74U, "WASH_P3_ROUND_4_FILL_S: element or pump suction not covered under 74 s");
WASH_ASSERT(WASH_P3_ROUND_4_FILL_S <= 239U, "WASH_P3_ROUND_4_FILL_S: the tank may run over after 239 s");
WASH_ASSERT(47UL * WASH_P3_ROUND_4_FILL_S <= 84UL * WASH_P3_ROUND_4_DRAIN_S, "WASH_P3_ROUND_4_FILL_S, WASH_P3_ROUND_4_DRAIN_S: so much water asks for a longer drain");
WASH_ASSERT(WASH_P3_ROUND_4_HEAT_S <= 0U, "WASH_P3_ROUND_4_HEAT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P3_ROUND_4_SPRAY_ELEMENT_S <= 0U, "WASH_P3_ROUND_4_SPRAY_ELEMENT_S: element on for longer than was proven");
WASH_ASSERT(WASH_P3_ROUND_4_SETPOINT_DC == 0U, "WASH_P3_ROUND_4_SETPOINT_DC: no sensor stops the element here");
WASH_ASSERT(WASH_P3_ROUND_4_SPRAY_S >= 120U, "WASH_P3_ROUND_4_SPRAY_S: a round has to spray for so long");
WASH_ASSERT(WASH_P3_ROUND_4_SPRAY_S <= 6854U, "WASH_P3_ROUND_4_SPRAY_S: longer than the goal allows");
WASH_ASSERT(WASH_P3_ROUND_4_SOAK_S == 0U, "WASH_P3_ROUND_4_SOAK_S: no soak was proven here, plan again");
WASH_ASSERT(WASH_P3_ROUND_4_REST_S <= 6732U, "WASH_P3_ROUND_4_REST_S: longer than the goal allows");
WASH_ASSERT(WASH_P3_ROUND_4_DRAIN_S >= 47U, "WASH_P3_ROUND_4_DRAIN_S: too short to empty the tank");
WASH_ASSERT(WASH_P3_ROUND_4_DRAIN_S <= 300U, "WASH_P3_ROUND_4_DRAIN_S: the drain pump would run dry for too long");
WASH_ASSERT(WASH_P3_ROUND_4_TOP_UP_S == 0U, "WASH_P3_ROUND_4_TOP_UP_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P3_ROUND_4_MIX_S == 0U, "WASH_P3_ROUND_4_MIX_S: no top-up was proven here, plan again");
WASH_ASSERT(WASH_P3_ROUND_4_DETERGENT_DG == 0U, "WASH_P3_ROUND_4_DETERGENT_DG: detergent goes into a wash only");
WASH_ASSERT(WASH_ELEMENT_MA <= WASH_CIRCUIT_MA, "WASH_ELEMENT_MA: more than the circuit leaves, WASH_CIRCUIT_MA");
WASH_ASSERT(WASH_PUMP_MA <= WASH_CIRCUIT_MA, "WASH_PUMP_MA: more than the circuit leaves, WASH_CIRCUIT_MA");
WASH_ASSERT(1UL * WASH_P3_START_DRAIN_S + WASH_ROUND_LENGTH_S(P3, 1) + WASH_ROUND_LENGTH_S(P3, 2) + WASH_ROUND_LENGTH_S(P3, 3) + WASH_ROUND_LENGTH_S(P3, 4) + 1UL * WASH_P3_STAND_S <= 10200U, "all phases from WASH_P3_START_DRAIN_S to WASH_P3_STAND_S: longer than the goal allows");
WASH_ASSERT(WASH_P3_ROUND_1_ELEMENT_MAX_S <= 0U, "WASH_P3_ROUND_1_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_P3_ROUND_1_HEAT_S + 1UL * WASH_P3_ROUND_1_SPRAY_ELEMENT_S == WASH_P3_ROUND_1_ELEMENT_MAX_S, "WASH_P3_ROUND_1_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ROUND_2_ELEMENT_MAX_S <= 0U, "WASH_P3_ROUND_2_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_P3_ROUND_2_HEAT_S + 1UL * WASH_P3_ROUND_2_SPRAY_ELEMENT_S == WASH_P3_ROUND_2_ELEMENT_MAX_S, "WASH_P3_ROUND_2_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ROUND_3_ELEMENT_MAX_S <= 0U, "WASH_P3_ROUND_3_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_P3_ROUND_3_HEAT_S + 1UL * WASH_P3_ROUND_3_SPRAY_ELEMENT_S == WASH_P3_ROUND_3_ELEMENT_MAX_S, "WASH_P3_ROUND_3_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ROUND_4_ELEMENT_MAX_S <= 0U, "WASH_P3_ROUND_4_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_P3_ROUND_4_HEAT_S + 1UL * WASH_P3_ROUND_4_SPRAY_ELEMENT_S == WASH_P3_ROUND_4_ELEMENT_MAX_S, "WASH_P3_ROUND_4_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ELEMENT_MAX_S <= 0U, "WASH_P3_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(WASH_P3_FILL_MAX_S <= 239U, "WASH_P3_FILL_MAX_S: the inlet may be open for too long");
WASH_ASSERT(WASH_P3_DRAIN_MIN_S >= 30U, "WASH_P3_DRAIN_MIN_S: a drain may not be so short");
WASH_ASSERT(WASH_P3_ROUND_1_ELEMENT_MAX_S <= WASH_P3_ELEMENT_MAX_S, "WASH_P3_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ROUND_2_ELEMENT_MAX_S <= WASH_P3_ELEMENT_MAX_S, "WASH_P3_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ROUND_3_ELEMENT_MAX_S <= WASH_P3_ELEMENT_MAX_S, "WASH_P3_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ROUND_4_ELEMENT_MAX_S <= WASH_P3_ELEMENT_MAX_S, "WASH_P3_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ELEMENT_MAX_S == WASH_P3_ROUND_1_ELEMENT_MAX_S || WASH_P3_ELEMENT_MAX_S == WASH_P3_ROUND_2_ELEMENT_MAX_S || WASH_P3_ELEMENT_MAX_S == WASH_P3_ROUND_3_ELEMENT_MAX_S || WASH_P3_ELEMENT_MAX_S == WASH_P3_ROUND_4_ELEMENT_MAX_S, "WASH_P3_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ROUND_1_FILL_S <= WASH_P3_FILL_MAX_S, "WASH_P3_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ROUND_1_TOP_UP_S <= WASH_P3_FILL_MAX_S, "WASH_P3_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ROUND_2_FILL_S <= WASH_P3_FILL_MAX_S, "WASH_P3_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ROUND_2_TOP_UP_S <= WASH_P3_FILL_MAX_S, "WASH_P3_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ROUND_3_FILL_S <= WASH_P3_FILL_MAX_S, "WASH_P3_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ROUND_3_TOP_UP_S <= WASH_P3_FILL_MAX_S, "WASH_P3_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ROUND_4_FILL_S <= WASH_P3_FILL_MAX_S, "WASH_P3_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ROUND_4_TOP_UP_S <= WASH_P3_FILL_MAX_S, "WASH_P3_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_FILL_MAX_S == WASH_P3_ROUND_1_FILL_S || WASH_P3_FILL_MAX_S == WASH_P3_ROUND_1_TOP_UP_S || WASH_P3_FILL_MAX_S == WASH_P3_ROUND_2_FILL_S || WASH_P3_FILL_MAX_S == WASH_P3_ROUND_2_TOP_UP_S || WASH_P3_FILL_MAX_S == WASH_P3_ROUND_3_FILL_S || WASH_P3_FILL_MAX_S == WASH_P3_ROUND_3_TOP_UP_S || WASH_P3_FILL_MAX_S == WASH_P3_ROUND_4_FILL_S || WASH_P3_FILL_MAX_S == WASH_P3_ROUND_4_TOP_UP_S, "WASH_P3_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_START_DRAIN_S >= WASH_P3_DRAIN_MIN_S, "WASH_P3_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ROUND_1_DRAIN_S >= WASH_P3_DRAIN_MIN_S, "WASH_P3_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ROUND_2_DRAIN_S >= WASH_P3_DRAIN_MIN_S, "WASH_P3_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ROUND_3_DRAIN_S >= WASH_P3_DRAIN_MIN_S, "WASH_P3_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_ROUND_4_DRAIN_S >= WASH_P3_DRAIN_MIN_S, "WASH_P3_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_DRAIN_MIN_S == WASH_P3_START_DRAIN_S || WASH_P3_DRAIN_MIN_S == WASH_P3_ROUND_1_DRAIN_S || WASH_P3_DRAIN_MIN_S == WASH_P3_ROUND_2_DRAIN_S || WASH_P3_DRAIN_MIN_S == WASH_P3_ROUND_3_DRAIN_S || WASH_P3_DRAIN_MIN_S == WASH_P3_ROUND_4_DRAIN_S, "WASH_P3_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(1UL * WASH_P3_START_DRAIN_S + WASH_ROUND_LENGTH_S(P3, 1) + WASH_ROUND_LENGTH_S(P3, 2) + WASH_ROUND_LENGTH_S(P3, 3) + WASH_ROUND_LENGTH_S(P3, 4) + 1UL * WASH_P3_STAND_S == WASH_P3_TOTAL_MAX_S, "WASH_P3_TOTAL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P3_TOTAL_MAX_S <= 10200U, "WASH_P3_TOTAL_MAX_S: longer than it may take");

/* Limits of programme 4 */
WASH_ASSERT(WASH_P4_BENCH_RUN == 1U, "WASH_P4_BENCH_RUN: the controller would take the table for another, plan again");
WASH_ASSERT(WASH_P4_ROUNDS == 4U, "WASH_P4_ROUNDS: the controller would take the table for another, plan again");
WASH_ASSERT(WASH_P4_ROUND_1_KIND == 0U, "WASH_P4_ROUND_1_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_P4_ROUND_2_KIND == 1U, "WASH_P4_ROUND_2_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_P4_ROUND_3_KIND == 2U, "WASH_P4_ROUND_3_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_P4_ROUND_4_KIND == 2U, "WASH_P4_ROUND_4_KIND: another kind of round has other limits, plan again");
WASH_ASSERT(WASH_P4_START_DRAIN_S >= 2U, "WASH_P4_START_DRAIN_S: too short to be seen");
WASH_ASSERT(WASH_P4_START_DRAIN_S <= 6U, "WASH_P4_START_DRAIN_S: too long for a bench run");
WASH_ASSERT(WASH_P4_GAP_S >= 2U, "WASH_P4_GAP_S: too short to be seen");
WASH_ASSERT(WASH_P4_GAP_S <= 6U, "WASH_P4_GAP_S: too long for a bench run");
WASH_ASSERT(WASH_P4_AFTER_SOAK_S == 0U, "WASH_P4_AFTER_SOAK_S: the programme has no such phase");
WASH_ASSERT(WASH_P4_STAND_S >= 2U, "WASH_P4_STAND_S: too short to be seen");
WASH_ASSERT(WASH_P4_STAND_S <= 6U, "WASH_P4_STAND_S: too long for a bench run");
WASH_ASSERT(WASH_P4_RESTART_AFTER_CUT == 0U, "WASH_P4_RESTART_AFTER_CUT: a bench run is started by a person");
WASH_ASSERT(WASH_P4_HYSTERESIS_DK == 0U, "WASH_P4_HYSTERESIS_DK: nothing is heated in a bench run");
WASH_ASSERT(WASH_P4_BATH_MAX_DC == 0U, "WASH_P4_BATH_MAX_DC: nothing is heated in a bench run");
WASH_ASSERT(WASH_P4_LID_OPEN_AFTER_S == 0U, "WASH_P4_LID_OPEN_AFTER_S: nothing is heated in a bench run");
WASH_ASSERT(WASH_P4_ROUND_1_FILL_S >= 2U, "WASH_P4_ROUND_1_FILL_S: too short to be seen");
WASH_ASSERT(WASH_P4_ROUND_1_FILL_S <= 6U, "WASH_P4_ROUND_1_FILL_S: too long for a bench run");
WASH_ASSERT(WASH_P4_ROUND_1_SPRAY_S >= 2U, "WASH_P4_ROUND_1_SPRAY_S: too short to be seen");
WASH_ASSERT(WASH_P4_ROUND_1_SPRAY_S <= 6U, "WASH_P4_ROUND_1_SPRAY_S: too long for a bench run");
WASH_ASSERT(WASH_P4_ROUND_1_SOAK_S == 0U, "WASH_P4_ROUND_1_SOAK_S: the programme has no such phase");
WASH_ASSERT(WASH_P4_ROUND_1_REST_S == 0U, "WASH_P4_ROUND_1_REST_S: the programme has no such phase");
WASH_ASSERT(WASH_P4_ROUND_1_TOP_UP_S == 0U, "WASH_P4_ROUND_1_TOP_UP_S: the programme has no such phase");
WASH_ASSERT(WASH_P4_ROUND_1_MIX_S == 0U, "WASH_P4_ROUND_1_MIX_S: the programme has no such phase");
WASH_ASSERT(WASH_P4_ROUND_1_DRAIN_S >= 2U, "WASH_P4_ROUND_1_DRAIN_S: too short to be seen");
WASH_ASSERT(WASH_P4_ROUND_1_DRAIN_S <= 6U, "WASH_P4_ROUND_1_DRAIN_S: too long for a bench run");
WASH_ASSERT(WASH_P4_ROUND_1_HEAT_S == 0U, "WASH_P4_ROUND_1_HEAT_S: no element in a bench run");
WASH_ASSERT(WASH_P4_ROUND_1_SPRAY_ELEMENT_S == 0U, "WASH_P4_ROUND_1_SPRAY_ELEMENT_S: no element in a bench run");
WASH_ASSERT(WASH_P4_ROUND_1_SETPOINT_DC == 0U, "WASH_P4_ROUND_1_SETPOINT_DC: no element in a bench run");
WASH_ASSERT(WASH_P4_ROUND_1_DETERGENT_DG == 0U, "WASH_P4_ROUND_1_DETERGENT_DG: no detergent in a bench run");
WASH_ASSERT(WASH_P4_ROUND_2_FILL_S >= 2U, "WASH_P4_ROUND_2_FILL_S: too short to be seen");
WASH_ASSERT(WASH_P4_ROUND_2_FILL_S <= 6U, "WASH_P4_ROUND_2_FILL_S: too long for a bench run");
WASH_ASSERT(WASH_P4_ROUND_2_SPRAY_S >= 2U, "WASH_P4_ROUND_2_SPRAY_S: too short to be seen");
WASH_ASSERT(WASH_P4_ROUND_2_SPRAY_S <= 6U, "WASH_P4_ROUND_2_SPRAY_S: too long for a bench run");
WASH_ASSERT(WASH_P4_ROUND_2_SOAK_S == 0U, "WASH_P4_ROUND_2_SOAK_S: the programme has no such phase");
WASH_ASSERT(WASH_P4_ROUND_2_REST_S >= 2U, "WASH_P4_ROUND_2_REST_S: too short to be seen");
WASH_ASSERT(WASH_P4_ROUND_2_REST_S <= 6U, "WASH_P4_ROUND_2_REST_S: too long for a bench run");
WASH_ASSERT(WASH_P4_ROUND_2_TOP_UP_S == 0U, "WASH_P4_ROUND_2_TOP_UP_S: the programme has no such phase");
WASH_ASSERT(WASH_P4_ROUND_2_MIX_S == 0U, "WASH_P4_ROUND_2_MIX_S: the programme has no such phase");
WASH_ASSERT(WASH_P4_ROUND_2_DRAIN_S >= 2U, "WASH_P4_ROUND_2_DRAIN_S: too short to be seen");
WASH_ASSERT(WASH_P4_ROUND_2_DRAIN_S <= 6U, "WASH_P4_ROUND_2_DRAIN_S: too long for a bench run");
WASH_ASSERT(WASH_P4_ROUND_2_HEAT_S == 0U, "WASH_P4_ROUND_2_HEAT_S: no element in a bench run");
WASH_ASSERT(WASH_P4_ROUND_2_SPRAY_ELEMENT_S == 0U, "WASH_P4_ROUND_2_SPRAY_ELEMENT_S: no element in a bench run");
WASH_ASSERT(WASH_P4_ROUND_2_SETPOINT_DC == 0U, "WASH_P4_ROUND_2_SETPOINT_DC: no element in a bench run");
WASH_ASSERT(WASH_P4_ROUND_2_DETERGENT_DG == 0U, "WASH_P4_ROUND_2_DETERGENT_DG: no detergent in a bench run");
WASH_ASSERT(WASH_P4_ROUND_3_FILL_S >= 2U, "WASH_P4_ROUND_3_FILL_S: too short to be seen");
WASH_ASSERT(WASH_P4_ROUND_3_FILL_S <= 6U, "WASH_P4_ROUND_3_FILL_S: too long for a bench run");
WASH_ASSERT(WASH_P4_ROUND_3_SPRAY_S >= 2U, "WASH_P4_ROUND_3_SPRAY_S: too short to be seen");
WASH_ASSERT(WASH_P4_ROUND_3_SPRAY_S <= 6U, "WASH_P4_ROUND_3_SPRAY_S: too long for a bench run");
WASH_ASSERT(WASH_P4_ROUND_3_SOAK_S == 0U, "WASH_P4_ROUND_3_SOAK_S: the programme has no such phase");
WASH_ASSERT(WASH_P4_ROUND_3_REST_S == 0U, "WASH_P4_ROUND_3_REST_S: the programme has no such phase");
WASH_ASSERT(WASH_P4_ROUND_3_TOP_UP_S == 0U, "WASH_P4_ROUND_3_TOP_UP_S: the programme has no such phase");
WASH_ASSERT(WASH_P4_ROUND_3_MIX_S == 0U, "WASH_P4_ROUND_3_MIX_S: the programme has no such phase");
WASH_ASSERT(WASH_P4_ROUND_3_DRAIN_S >= 2U, "WASH_P4_ROUND_3_DRAIN_S: too short to be seen");
WASH_ASSERT(WASH_P4_ROUND_3_DRAIN_S <= 6U, "WASH_P4_ROUND_3_DRAIN_S: too long for a bench run");
WASH_ASSERT(WASH_P4_ROUND_3_HEAT_S == 0U, "WASH_P4_ROUND_3_HEAT_S: no element in a bench run");
WASH_ASSERT(WASH_P4_ROUND_3_SPRAY_ELEMENT_S == 0U, "WASH_P4_ROUND_3_SPRAY_ELEMENT_S: no element in a bench run");
WASH_ASSERT(WASH_P4_ROUND_3_SETPOINT_DC == 0U, "WASH_P4_ROUND_3_SETPOINT_DC: no element in a bench run");
WASH_ASSERT(WASH_P4_ROUND_3_DETERGENT_DG == 0U, "WASH_P4_ROUND_3_DETERGENT_DG: no detergent in a bench run");
WASH_ASSERT(WASH_P4_ROUND_4_FILL_S >= 2U, "WASH_P4_ROUND_4_FILL_S: too short to be seen");
WASH_ASSERT(WASH_P4_ROUND_4_FILL_S <= 6U, "WASH_P4_ROUND_4_FILL_S: too long for a bench run");
WASH_ASSERT(WASH_P4_ROUND_4_SPRAY_S >= 2U, "WASH_P4_ROUND_4_SPRAY_S: too short to be seen");
WASH_ASSERT(WASH_P4_ROUND_4_SPRAY_S <= 6U, "WASH_P4_ROUND_4_SPRAY_S: too long for a bench run");
WASH_ASSERT(WASH_P4_ROUND_4_SOAK_S == 0U, "WASH_P4_ROUND_4_SOAK_S: the programme has no such phase");
WASH_ASSERT(WASH_P4_ROUND_4_REST_S >= 2U, "WASH_P4_ROUND_4_REST_S: too short to be seen");
WASH_ASSERT(WASH_P4_ROUND_4_REST_S <= 6U, "WASH_P4_ROUND_4_REST_S: too long for a bench run");
WASH_ASSERT(WASH_P4_ROUND_4_TOP_UP_S == 0U, "WASH_P4_ROUND_4_TOP_UP_S: the programme has no such phase");
WASH_ASSERT(WASH_P4_ROUND_4_MIX_S == 0U, "WASH_P4_ROUND_4_MIX_S: the programme has no such phase");
WASH_ASSERT(WASH_P4_ROUND_4_DRAIN_S >= 2U, "WASH_P4_ROUND_4_DRAIN_S: too short to be seen");
WASH_ASSERT(WASH_P4_ROUND_4_DRAIN_S <= 6U, "WASH_P4_ROUND_4_DRAIN_S: too long for a bench run");
WASH_ASSERT(WASH_P4_ROUND_4_HEAT_S == 0U, "WASH_P4_ROUND_4_HEAT_S: no element in a bench run");
WASH_ASSERT(WASH_P4_ROUND_4_SPRAY_ELEMENT_S == 0U, "WASH_P4_ROUND_4_SPRAY_ELEMENT_S: no element in a bench run");
WASH_ASSERT(WASH_P4_ROUND_4_SETPOINT_DC == 0U, "WASH_P4_ROUND_4_SETPOINT_DC: no element in a bench run");
WASH_ASSERT(WASH_P4_ROUND_4_DETERGENT_DG == 0U, "WASH_P4_ROUND_4_DETERGENT_DG: no detergent in a bench run");
WASH_ASSERT(1UL * WASH_P4_ROUND_1_FILL_S + 1UL * WASH_P4_ROUND_1_TOP_UP_S + 1UL * WASH_P4_ROUND_2_FILL_S + 1UL * WASH_P4_ROUND_2_TOP_UP_S + 1UL * WASH_P4_ROUND_3_FILL_S + 1UL * WASH_P4_ROUND_3_TOP_UP_S + 1UL * WASH_P4_ROUND_4_FILL_S + 1UL * WASH_P4_ROUND_4_TOP_UP_S <= 245U, "all fills together: they flood the tank if nothing drains");
WASH_ASSERT(WASH_P4_ROUND_1_ELEMENT_MAX_S <= 0U, "WASH_P4_ROUND_1_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_P4_ROUND_1_HEAT_S + 1UL * WASH_P4_ROUND_1_SPRAY_ELEMENT_S == WASH_P4_ROUND_1_ELEMENT_MAX_S, "WASH_P4_ROUND_1_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ROUND_2_ELEMENT_MAX_S <= 0U, "WASH_P4_ROUND_2_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_P4_ROUND_2_HEAT_S + 1UL * WASH_P4_ROUND_2_SPRAY_ELEMENT_S == WASH_P4_ROUND_2_ELEMENT_MAX_S, "WASH_P4_ROUND_2_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ROUND_3_ELEMENT_MAX_S <= 0U, "WASH_P4_ROUND_3_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_P4_ROUND_3_HEAT_S + 1UL * WASH_P4_ROUND_3_SPRAY_ELEMENT_S == WASH_P4_ROUND_3_ELEMENT_MAX_S, "WASH_P4_ROUND_3_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ROUND_4_ELEMENT_MAX_S <= 0U, "WASH_P4_ROUND_4_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(1UL * WASH_P4_ROUND_4_HEAT_S + 1UL * WASH_P4_ROUND_4_SPRAY_ELEMENT_S == WASH_P4_ROUND_4_ELEMENT_MAX_S, "WASH_P4_ROUND_4_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ELEMENT_MAX_S <= 0U, "WASH_P4_ELEMENT_MAX_S: element on for longer than was proven");
WASH_ASSERT(WASH_P4_FILL_MAX_S <= 6U, "WASH_P4_FILL_MAX_S: the inlet may be open for too long");
WASH_ASSERT(WASH_P4_DRAIN_MIN_S >= 2U, "WASH_P4_DRAIN_MIN_S: a drain may not be so short");
WASH_ASSERT(WASH_P4_ROUND_1_ELEMENT_MAX_S <= WASH_P4_ELEMENT_MAX_S, "WASH_P4_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ROUND_2_ELEMENT_MAX_S <= WASH_P4_ELEMENT_MAX_S, "WASH_P4_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ROUND_3_ELEMENT_MAX_S <= WASH_P4_ELEMENT_MAX_S, "WASH_P4_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ROUND_4_ELEMENT_MAX_S <= WASH_P4_ELEMENT_MAX_S, "WASH_P4_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ELEMENT_MAX_S == WASH_P4_ROUND_1_ELEMENT_MAX_S || WASH_P4_ELEMENT_MAX_S == WASH_P4_ROUND_2_ELEMENT_MAX_S || WASH_P4_ELEMENT_MAX_S == WASH_P4_ROUND_3_ELEMENT_MAX_S || WASH_P4_ELEMENT_MAX_S == WASH_P4_ROUND_4_ELEMENT_MAX_S, "WASH_P4_ELEMENT_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ROUND_1_FILL_S <= WASH_P4_FILL_MAX_S, "WASH_P4_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ROUND_1_TOP_UP_S <= WASH_P4_FILL_MAX_S, "WASH_P4_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ROUND_2_FILL_S <= WASH_P4_FILL_MAX_S, "WASH_P4_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ROUND_2_TOP_UP_S <= WASH_P4_FILL_MAX_S, "WASH_P4_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ROUND_3_FILL_S <= WASH_P4_FILL_MAX_S, "WASH_P4_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ROUND_3_TOP_UP_S <= WASH_P4_FILL_MAX_S, "WASH_P4_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ROUND_4_FILL_S <= WASH_P4_FILL_MAX_S, "WASH_P4_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ROUND_4_TOP_UP_S <= WASH_P4_FILL_MAX_S, "WASH_P4_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_FILL_MAX_S == WASH_P4_ROUND_1_FILL_S || WASH_P4_FILL_MAX_S == WASH_P4_ROUND_1_TOP_UP_S || WASH_P4_FILL_MAX_S == WASH_P4_ROUND_2_FILL_S || WASH_P4_FILL_MAX_S == WASH_P4_ROUND_2_TOP_UP_S || WASH_P4_FILL_MAX_S == WASH_P4_ROUND_3_FILL_S || WASH_P4_FILL_MAX_S == WASH_P4_ROUND_3_TOP_UP_S || WASH_P4_FILL_MAX_S == WASH_P4_ROUND_4_FILL_S || WASH_P4_FILL_MAX_S == WASH_P4_ROUND_4_TOP_UP_S, "WASH_P4_FILL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_START_DRAIN_S >= WASH_P4_DRAIN_MIN_S, "WASH_P4_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ROUND_1_DRAIN_S >= WASH_P4_DRAIN_MIN_S, "WASH_P4_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ROUND_2_DRAIN_S >= WASH_P4_DRAIN_MIN_S, "WASH_P4_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ROUND_3_DRAIN_S >= WASH_P4_DRAIN_MIN_S, "WASH_P4_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_ROUND_4_DRAIN_S >= WASH_P4_DRAIN_MIN_S, "WASH_P4_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_DRAIN_MIN_S == WASH_P4_START_DRAIN_S || WASH_P4_DRAIN_MIN_S == WASH_P4_ROUND_1_DRAIN_S || WASH_P4_DRAIN_MIN_S == WASH_P4_ROUND_2_DRAIN_S || WASH_P4_DRAIN_MIN_S == WASH_P4_ROUND_3_DRAIN_S || WASH_P4_DRAIN_MIN_S == WASH_P4_ROUND_4_DRAIN_S, "WASH_P4_DRAIN_MIN_S: follows from the phases, change it with them");
WASH_ASSERT(1UL * WASH_P4_START_DRAIN_S + WASH_ROUND_LENGTH_S(P4, 1) + WASH_ROUND_LENGTH_S(P4, 2) + WASH_ROUND_LENGTH_S(P4, 3) + WASH_ROUND_LENGTH_S(P4, 4) + 1UL * WASH_P4_STAND_S == WASH_P4_TOTAL_MAX_S, "WASH_P4_TOTAL_MAX_S: follows from the phases, change it with them");
WASH_ASSERT(WASH_P4_TOTAL_MAX_S <= 180U, "WASH_P4_TOTAL_MAX_S: longer than it may take");

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

/* A programme, for a controller that takes it by pointer */
struct wash_programme {
    const char *name;
    const wash_round_t *row;
    uint8_t bench_run;
    uint8_t rounds;
    uint16_t start_drain_s;
    uint16_t gap_s;
    uint16_t after_soak_s;
    uint16_t stand_s;
    uint16_t lid_open_after_s;
    uint16_t hysteresis_dk;
    uint16_t bath_max_dc;
    uint16_t fill_max_s;
    uint16_t drain_min_s;
    uint16_t element_max_s;
    uint32_t total_max_s;
    uint8_t restart_after_cut;
};

static const wash_round_t wash_rounds_p1[WASH_P1_ROUNDS] = {
    { WASH_P1_ROUND_1_KIND,
      WASH_P1_ROUND_1_FILL_S,
      WASH_P1_ROUND_1_HEAT_S,
      WASH_P1_ROUND_1_SPRAY_S,
      WASH_P1_ROUND_1_SPRAY_ELEMENT_S,
      WASH_P1_ROUND_1_SETPOINT_DC,
      WASH_P1_ROUND_1_SOAK_S,
      WASH_P1_ROUND_1_REST_S,
      WASH_P1_ROUND_1_TOP_UP_S,
      WASH_P1_ROUND_1_MIX_S,
      WASH_P1_ROUND_1_DRAIN_S,
      WASH_P1_ROUND_1_DETERGENT_DG },
    { WASH_P1_ROUND_2_KIND,
      WASH_P1_ROUND_2_FILL_S,
      WASH_P1_ROUND_2_HEAT_S,
      WASH_P1_ROUND_2_SPRAY_S,
      WASH_P1_ROUND_2_SPRAY_ELEMENT_S,
      WASH_P1_ROUND_2_SETPOINT_DC,
      WASH_P1_ROUND_2_SOAK_S,
      WASH_P1_ROUND_2_REST_S,
      WASH_P1_ROUND_2_TOP_UP_S,
      WASH_P1_ROUND_2_MIX_S,
      WASH_P1_ROUND_2_DRAIN_S,
      WASH_P1_ROUND_2_DETERGENT_DG },
    { WASH_P1_ROUND_3_KIND,
      WASH_P1_ROUND_3_FILL_S,
      WASH_P1_ROUND_3_HEAT_S,
      WASH_P1_ROUND_3_SPRAY_S,
      WASH_P1_ROUND_3_SPRAY_ELEMENT_S,
      WASH_P1_ROUND_3_SETPOINT_DC,
      WASH_P1_ROUND_3_SOAK_S,
      WASH_P1_ROUND_3_REST_S,
      WASH_P1_ROUND_3_TOP_UP_S,
      WASH_P1_ROUND_3_MIX_S,
      WASH_P1_ROUND_3_DRAIN_S,
      WASH_P1_ROUND_3_DETERGENT_DG },
    { WASH_P1_ROUND_4_KIND,
      WASH_P1_ROUND_4_FILL_S,
      WASH_P1_ROUND_4_HEAT_S,
      WASH_P1_ROUND_4_SPRAY_S,
      WASH_P1_ROUND_4_SPRAY_ELEMENT_S,
      WASH_P1_ROUND_4_SETPOINT_DC,
      WASH_P1_ROUND_4_SOAK_S,
      WASH_P1_ROUND_4_REST_S,
      WASH_P1_ROUND_4_TOP_UP_S,
      WASH_P1_ROUND_4_MIX_S,
      WASH_P1_ROUND_4_DRAIN_S,
      WASH_P1_ROUND_4_DETERGENT_DG },
};

static const wash_round_t wash_rounds_p2[WASH_P2_ROUNDS] = {
    { WASH_P2_ROUND_1_KIND,
      WASH_P2_ROUND_1_FILL_S,
      WASH_P2_ROUND_1_HEAT_S,
      WASH_P2_ROUND_1_SPRAY_S,
      WASH_P2_ROUND_1_SPRAY_ELEMENT_S,
      WASH_P2_ROUND_1_SETPOINT_DC,
      WASH_P2_ROUND_1_SOAK_S,
      WASH_P2_ROUND_1_REST_S,
      WASH_P2_ROUND_1_TOP_UP_S,
      WASH_P2_ROUND_1_MIX_S,
      WASH_P2_ROUND_1_DRAIN_S,
      WASH_P2_ROUND_1_DETERGENT_DG },
    { WASH_P2_ROUND_2_KIND,
      WASH_P2_ROUND_2_FILL_S,
      WASH_P2_ROUND_2_HEAT_S,
      WASH_P2_ROUND_2_SPRAY_S,
      WASH_P2_ROUND_2_SPRAY_ELEMENT_S,
      WASH_P2_ROUND_2_SETPOINT_DC,
      WASH_P2_ROUND_2_SOAK_S,
      WASH_P2_ROUND_2_REST_S,
      WASH_P2_ROUND_2_TOP_UP_S,
      WASH_P2_ROUND_2_MIX_S,
      WASH_P2_ROUND_2_DRAIN_S,
      WASH_P2_ROUND_2_DETERGENT_DG },
    { WASH_P2_ROUND_3_KIND,
      WASH_P2_ROUND_3_FILL_S,
      WASH_P2_ROUND_3_HEAT_S,
      WASH_P2_ROUND_3_SPRAY_S,
      WASH_P2_ROUND_3_SPRAY_ELEMENT_S,
      WASH_P2_ROUND_3_SETPOINT_DC,
      WASH_P2_ROUND_3_SOAK_S,
      WASH_P2_ROUND_3_REST_S,
      WASH_P2_ROUND_3_TOP_UP_S,
      WASH_P2_ROUND_3_MIX_S,
      WASH_P2_ROUND_3_DRAIN_S,
      WASH_P2_ROUND_3_DETERGENT_DG },
};

static const wash_round_t wash_rounds_p3[WASH_P3_ROUNDS] = {
    { WASH_P3_ROUND_1_KIND,
      WASH_P3_ROUND_1_FILL_S,
      WASH_P3_ROUND_1_HEAT_S,
      WASH_P3_ROUND_1_SPRAY_S,
      WASH_P3_ROUND_1_SPRAY_ELEMENT_S,
      WASH_P3_ROUND_1_SETPOINT_DC,
      WASH_P3_ROUND_1_SOAK_S,
      WASH_P3_ROUND_1_REST_S,
      WASH_P3_ROUND_1_TOP_UP_S,
      WASH_P3_ROUND_1_MIX_S,
      WASH_P3_ROUND_1_DRAIN_S,
      WASH_P3_ROUND_1_DETERGENT_DG },
    { WASH_P3_ROUND_2_KIND,
      WASH_P3_ROUND_2_FILL_S,
      WASH_P3_ROUND_2_HEAT_S,
      WASH_P3_ROUND_2_SPRAY_S,
      WASH_P3_ROUND_2_SPRAY_ELEMENT_S,
      WASH_P3_ROUND_2_SETPOINT_DC,
      WASH_P3_ROUND_2_SOAK_S,
      WASH_P3_ROUND_2_REST_S,
      WASH_P3_ROUND_2_TOP_UP_S,
      WASH_P3_ROUND_2_MIX_S,
      WASH_P3_ROUND_2_DRAIN_S,
      WASH_P3_ROUND_2_DETERGENT_DG },
    { WASH_P3_ROUND_3_KIND,
      WASH_P3_ROUND_3_FILL_S,
      WASH_P3_ROUND_3_HEAT_S,
      WASH_P3_ROUND_3_SPRAY_S,
      WASH_P3_ROUND_3_SPRAY_ELEMENT_S,
      WASH_P3_ROUND_3_SETPOINT_DC,
      WASH_P3_ROUND_3_SOAK_S,
      WASH_P3_ROUND_3_REST_S,
      WASH_P3_ROUND_3_TOP_UP_S,
      WASH_P3_ROUND_3_MIX_S,
      WASH_P3_ROUND_3_DRAIN_S,
      WASH_P3_ROUND_3_DETERGENT_DG },
    { WASH_P3_ROUND_4_KIND,
      WASH_P3_ROUND_4_FILL_S,
      WASH_P3_ROUND_4_HEAT_S,
      WASH_P3_ROUND_4_SPRAY_S,
      WASH_P3_ROUND_4_SPRAY_ELEMENT_S,
      WASH_P3_ROUND_4_SETPOINT_DC,
      WASH_P3_ROUND_4_SOAK_S,
      WASH_P3_ROUND_4_REST_S,
      WASH_P3_ROUND_4_TOP_UP_S,
      WASH_P3_ROUND_4_MIX_S,
      WASH_P3_ROUND_4_DRAIN_S,
      WASH_P3_ROUND_4_DETERGENT_DG },
};

static const wash_round_t wash_rounds_p4[WASH_P4_ROUNDS] = {
    { WASH_P4_ROUND_1_KIND,
      WASH_P4_ROUND_1_FILL_S,
      WASH_P4_ROUND_1_HEAT_S,
      WASH_P4_ROUND_1_SPRAY_S,
      WASH_P4_ROUND_1_SPRAY_ELEMENT_S,
      WASH_P4_ROUND_1_SETPOINT_DC,
      WASH_P4_ROUND_1_SOAK_S,
      WASH_P4_ROUND_1_REST_S,
      WASH_P4_ROUND_1_TOP_UP_S,
      WASH_P4_ROUND_1_MIX_S,
      WASH_P4_ROUND_1_DRAIN_S,
      WASH_P4_ROUND_1_DETERGENT_DG },
    { WASH_P4_ROUND_2_KIND,
      WASH_P4_ROUND_2_FILL_S,
      WASH_P4_ROUND_2_HEAT_S,
      WASH_P4_ROUND_2_SPRAY_S,
      WASH_P4_ROUND_2_SPRAY_ELEMENT_S,
      WASH_P4_ROUND_2_SETPOINT_DC,
      WASH_P4_ROUND_2_SOAK_S,
      WASH_P4_ROUND_2_REST_S,
      WASH_P4_ROUND_2_TOP_UP_S,
      WASH_P4_ROUND_2_MIX_S,
      WASH_P4_ROUND_2_DRAIN_S,
      WASH_P4_ROUND_2_DETERGENT_DG },
    { WASH_P4_ROUND_3_KIND,
      WASH_P4_ROUND_3_FILL_S,
      WASH_P4_ROUND_3_HEAT_S,
      WASH_P4_ROUND_3_SPRAY_S,
      WASH_P4_ROUND_3_SPRAY_ELEMENT_S,
      WASH_P4_ROUND_3_SETPOINT_DC,
      WASH_P4_ROUND_3_SOAK_S,
      WASH_P4_ROUND_3_REST_S,
      WASH_P4_ROUND_3_TOP_UP_S,
      WASH_P4_ROUND_3_MIX_S,
      WASH_P4_ROUND_3_DRAIN_S,
      WASH_P4_ROUND_3_DETERGENT_DG },
    { WASH_P4_ROUND_4_KIND,
      WASH_P4_ROUND_4_FILL_S,
      WASH_P4_ROUND_4_HEAT_S,
      WASH_P4_ROUND_4_SPRAY_S,
      WASH_P4_ROUND_4_SPRAY_ELEMENT_S,
      WASH_P4_ROUND_4_SETPOINT_DC,
      WASH_P4_ROUND_4_SOAK_S,
      WASH_P4_ROUND_4_REST_S,
      WASH_P4_ROUND_4_TOP_UP_S,
      WASH_P4_ROUND_4_MIX_S,
      WASH_P4_ROUND_4_DRAIN_S,
      WASH_P4_ROUND_4_DETERGENT_DG },
};

static const struct wash_programme wash_programmes[WASH_PROGRAMMES] = {
    { WASH_P1_NAME,
      wash_rounds_p1,
      WASH_P1_BENCH_RUN,
      WASH_P1_ROUNDS,
      WASH_P1_START_DRAIN_S,
      WASH_P1_GAP_S,
      WASH_P1_AFTER_SOAK_S,
      WASH_P1_STAND_S,
      WASH_P1_LID_OPEN_AFTER_S,
      WASH_P1_HYSTERESIS_DK,
      WASH_P1_BATH_MAX_DC,
      WASH_P1_FILL_MAX_S,
      WASH_P1_DRAIN_MIN_S,
      WASH_P1_ELEMENT_MAX_S,
      WASH_P1_TOTAL_MAX_S,
      WASH_P1_RESTART_AFTER_CUT },
    { WASH_P2_NAME,
      wash_rounds_p2,
      WASH_P2_BENCH_RUN,
      WASH_P2_ROUNDS,
      WASH_P2_START_DRAIN_S,
      WASH_P2_GAP_S,
      WASH_P2_AFTER_SOAK_S,
      WASH_P2_STAND_S,
      WASH_P2_LID_OPEN_AFTER_S,
      WASH_P2_HYSTERESIS_DK,
      WASH_P2_BATH_MAX_DC,
      WASH_P2_FILL_MAX_S,
      WASH_P2_DRAIN_MIN_S,
      WASH_P2_ELEMENT_MAX_S,
      WASH_P2_TOTAL_MAX_S,
      WASH_P2_RESTART_AFTER_CUT },
    { WASH_P3_NAME,
      wash_rounds_p3,
      WASH_P3_BENCH_RUN,
      WASH_P3_ROUNDS,
      WASH_P3_START_DRAIN_S,
      WASH_P3_GAP_S,
      WASH_P3_AFTER_SOAK_S,
      WASH_P3_STAND_S,
      WASH_P3_LID_OPEN_AFTER_S,
      WASH_P3_HYSTERESIS_DK,
      WASH_P3_BATH_MAX_DC,
      WASH_P3_FILL_MAX_S,
      WASH_P3_DRAIN_MIN_S,
      WASH_P3_ELEMENT_MAX_S,
      WASH_P3_TOTAL_MAX_S,
      WASH_P3_RESTART_AFTER_CUT },
    { WASH_P4_NAME,
      wash_rounds_p4,
      WASH_P4_BENCH_RUN,
      WASH_P4_ROUNDS,
      WASH_P4_START_DRAIN_S,
      WASH_P4_GAP_S,
      WASH_P4_AFTER_SOAK_S,
      WASH_P4_STAND_S,
      WASH_P4_LID_OPEN_AFTER_S,
      WASH_P4_HYSTERESIS_DK,
      WASH_P4_BATH_MAX_DC,
      WASH_P4_FILL_MAX_S,
      WASH_P4_DRAIN_MIN_S,
      WASH_P4_ELEMENT_MAX_S,
      WASH_P4_TOTAL_MAX_S,
      WASH_P4_RESTART_AFTER_CUT },
};

/* One of them; number counts from 0 */
static inline const struct wash_programme *wash_programme_at(uint8_t number)
{
    return &wash_programmes[number];
}

#endif /* SCULLION_WASH_TIMING_H */
