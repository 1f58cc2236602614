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
 *
 * What the controller does:
 * 1. Drain for WASH_START_DRAIN_S, then run the rounds in order, then let the load stand for
 *   WASH_STAND_S.
 * 2. A round is fill, heat, spray, rest, drain. Between any two phases every output is off for
 *   WASH_GAP_S; a phase of 0 s is left out together with its pause.
 * 3. fill: inlet open for _FILL_S. If WASH_FILL_BY_LEVEL is 1: until the level switch closes, at
 *   most _FILL_S; if it has not closed by then, stop and call for help.
 * 4. Detergent, _DETERGENT_DG of it, goes in when the fill ends.
 * 5. heat: element on, pump off, for _HEAT_S.
 * 6. spray: wash pump on for _SPRAY_S; element on from its start for _SPRAY_ELEMENT_S.
 * 7. If WASH_HAS_THERMOSTAT is 1: heat ends when the sensor reads _SETPOINT_DC; while spraying
 *   the element goes off there and on again WASH_HYSTERESIS_DK below. _HEAT_S and
 *   _SPRAY_ELEMENT_S are then the longest it may be on.
 * 8. rest: every output off for _REST_S. drain: drain pump on for _DRAIN_S.
 *
 * CAUTIONS
 * - Mains voltage and water kill together. Wiring, protective earth and a 30 mA RCD
 *   (ground-fault protection) are work for a licensed electrician, by the local code.
 * - The element must never be on dry. Whatever the controller says, a float switch in series
 *   with it and a thermal cut-out with manual reset have to stop it.
 * - Hot water and steam scald. Keep the lid shut while the machine runs, and let it cool before
 *   you reach in.
 * - The numbers hold for the machine as it was measured. After any change, or where a measured
 *   value was a guess: measure, plan and check again.
 * - Local codes and licensed practice come first wherever they say otherwise.
 */

#ifndef SCULLION_WASH_TIMING_H
#define SCULLION_WASH_TIMING_H

#include <stdint.h>

/* Kind of a round */
enum { WASH_KIND_PRERINSE = 0, WASH_KIND_WASH = 1, WASH_KIND_RINSE = 2, WASH_KIND_STEAM = 3 };

/* The programme as a whole */
#define WASH_ROUNDS            4U /* rounds in the table below */
#define WASH_START_DRAIN_S    30U /* [s] drain pump on before the first round */
#define WASH_GAP_S             2U /* [s] every output off between two phases */
#define WASH_STAND_S        1200U /* [s] the load stands after the last drain */
#define WASH_FILL_BY_LEVEL      1 /* 1: a level switch ends the fill */
#define WASH_HAS_THERMOSTAT     1 /* 1: a sensor stops the element */
#define WASH_HYSTERESIS_DK    10U /* [0.1 K] thermostat: on again so far below */

/* Round 1 of 4: prerinse */
#define WASH_ROUND_1_KIND            WASH_KIND_PRERINSE /* kind */
#define WASH_ROUND_1_FILL_S                         90U /* [s] inlet open; at most, the tank holds 28 l */
#define WASH_ROUND_1_HEAT_S                          0U /* [s] element on, pump off */
#define WASH_ROUND_1_SPRAY_S                       180U /* [s] wash pump on */
#define WASH_ROUND_1_SPRAY_ELEMENT_S                 0U /* [s] element on, from the start of the spray */
#define WASH_ROUND_1_SETPOINT_DC                     0U /* [0.1 C] sensor reading that stops the element */
#define WASH_ROUND_1_REST_S                          0U /* [s] every output off before the drain */
#define WASH_ROUND_1_DRAIN_S                        60U /* [s] drain pump on */
#define WASH_ROUND_1_DETERGENT_DG                    0U /* [0.1 g] detergent, goes in when the fill ends */

/* Round 2 of 4: wash */
#define WASH_ROUND_2_KIND            WASH_KIND_WASH /* kind */
#define WASH_ROUND_2_FILL_S                     96U /* [s] inlet open; at most, the tank holds 28 l */
#define WASH_ROUND_2_HEAT_S                   2000U /* [s] element on, pump off; at most; ceiling 75 C (tank) */
#define WASH_ROUND_2_SPRAY_S                  1200U /* [s] wash pump on */
#define WASH_ROUND_2_SPRAY_ELEMENT_S          1200U /* [s] element on, from the start of the spray; at most; ceiling 75 C (tank) */
#define WASH_ROUND_2_SETPOINT_DC               520U /* [0.1 C] sensor reading that stops the element; ceiling 75 C (tank) */
#define WASH_ROUND_2_REST_S                     20U /* [s] every output off before the drain */
#define WASH_ROUND_2_DRAIN_S                    62U /* [s] drain pump on */
#define WASH_ROUND_2_DETERGENT_DG              288U /* [0.1 g] detergent, goes in when the fill ends */

/* Round 3 of 4: rinse */
#define WASH_ROUND_3_KIND            WASH_KIND_RINSE /* kind */
#define WASH_ROUND_3_FILL_S                      84U /* [s] inlet open; at most, the tank holds 28 l */
#define WASH_ROUND_3_HEAT_S                       0U /* [s] element on, pump off */
#define WASH_ROUND_3_SPRAY_S                    120U /* [s] wash pump on */
#define WASH_ROUND_3_SPRAY_ELEMENT_S              0U /* [s] element on, from the start of the spray */
#define WASH_ROUND_3_SETPOINT_DC                  0U /* [0.1 C] sensor reading that stops the element */
#define WASH_ROUND_3_REST_S                       0U /* [s] every output off before the drain */
#define WASH_ROUND_3_DRAIN_S                     58U /* [s] drain pump on */
#define WASH_ROUND_3_DETERGENT_DG                 0U /* [0.1 g] detergent, goes in when the fill ends */

/* Round 4 of 4: rinse */
#define WASH_ROUND_4_KIND            WASH_KIND_RINSE /* kind */
#define WASH_ROUND_4_FILL_S                      84U /* [s] inlet open; at most, the tank holds 28 l */
#define WASH_ROUND_4_HEAT_S                    1320U /* [s] element on, pump off; at most; ceiling 75 C (tank) */
#define WASH_ROUND_4_SPRAY_S                    240U /* [s] wash pump on */
#define WASH_ROUND_4_SPRAY_ELEMENT_S            120U /* [s] element on, from the start of the spray; at most; ceiling 75 C (tank) */
#define WASH_ROUND_4_SETPOINT_DC                655U /* [0.1 C] sensor reading that stops the element; ceiling 75 C (tank) */
#define WASH_ROUND_4_REST_S                      20U /* [s] every output off before the drain */
#define WASH_ROUND_4_DRAIN_S                     58U /* [s] drain pump on */
#define WASH_ROUND_4_DETERGENT_DG                 0U /* [0.1 g] detergent, goes in when the fill ends */

/* Edited by hand? What breaks one of these must not run. Passing them proves nothing. */
#if WASH_GAP_S < 1U
#error "WASH_GAP_S: two motors would start together"
#endif
#if WASH_ROUND_1_HEAT_S > 0U
#error "WASH_ROUND_1_HEAT_S: element on for longer than was proven"
#endif
#if WASH_ROUND_1_SPRAY_ELEMENT_S > 0U
#error "WASH_ROUND_1_SPRAY_ELEMENT_S: element on for longer than was proven"
#endif
#if WASH_ROUND_2_HEAT_S > 2000U
#error "WASH_ROUND_2_HEAT_S: element on for longer than was proven"
#endif
#if WASH_ROUND_2_SPRAY_ELEMENT_S > 1200U
#error "WASH_ROUND_2_SPRAY_ELEMENT_S: element on for longer than was proven"
#endif
#if WASH_ROUND_2_SPRAY_ELEMENT_S > WASH_ROUND_2_SPRAY_S
#error "WASH_ROUND_2_SPRAY_ELEMENT_S: element on after the spray"
#endif
#if WASH_ROUND_2_SPRAY_S - WASH_ROUND_2_SPRAY_ELEMENT_S + WASH_ROUND_2_REST_S + 2U * WASH_GAP_S < 20U
#error "WASH_ROUND_2: the element would be hot when the water leaves"
#endif
#if WASH_ROUND_3_HEAT_S > 0U
#error "WASH_ROUND_3_HEAT_S: element on for longer than was proven"
#endif
#if WASH_ROUND_3_SPRAY_ELEMENT_S > 0U
#error "WASH_ROUND_3_SPRAY_ELEMENT_S: element on for longer than was proven"
#endif
#if WASH_ROUND_4_HEAT_S > 1320U
#error "WASH_ROUND_4_HEAT_S: element on for longer than was proven"
#endif
#if WASH_ROUND_4_SPRAY_ELEMENT_S > 120U
#error "WASH_ROUND_4_SPRAY_ELEMENT_S: element on for longer than was proven"
#endif
#if WASH_ROUND_4_SPRAY_ELEMENT_S > WASH_ROUND_4_SPRAY_S
#error "WASH_ROUND_4_SPRAY_ELEMENT_S: element on after the spray"
#endif
#if WASH_ROUND_4_SPRAY_S - WASH_ROUND_4_SPRAY_ELEMENT_S + WASH_ROUND_4_REST_S + 2U * WASH_GAP_S < 20U
#error "WASH_ROUND_4: the element would be hot when the water leaves"
#endif

/* The same numbers as a table, for a controller that steps through it */
typedef struct {
    uint8_t kind;
    uint16_t fill_s;
    uint16_t heat_s;
    uint16_t spray_s;
    uint16_t spray_element_s;
    uint16_t setpoint_dc;
    uint16_t rest_s;
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
      WASH_ROUND_1_REST_S,
      WASH_ROUND_1_DRAIN_S,
      WASH_ROUND_1_DETERGENT_DG },
    { WASH_ROUND_2_KIND,
      WASH_ROUND_2_FILL_S,
      WASH_ROUND_2_HEAT_S,
      WASH_ROUND_2_SPRAY_S,
      WASH_ROUND_2_SPRAY_ELEMENT_S,
      WASH_ROUND_2_SETPOINT_DC,
      WASH_ROUND_2_REST_S,
      WASH_ROUND_2_DRAIN_S,
      WASH_ROUND_2_DETERGENT_DG },
    { WASH_ROUND_3_KIND,
      WASH_ROUND_3_FILL_S,
      WASH_ROUND_3_HEAT_S,
      WASH_ROUND_3_SPRAY_S,
      WASH_ROUND_3_SPRAY_ELEMENT_S,
      WASH_ROUND_3_SETPOINT_DC,
      WASH_ROUND_3_REST_S,
      WASH_ROUND_3_DRAIN_S,
      WASH_ROUND_3_DETERGENT_DG },
    { WASH_ROUND_4_KIND,
      WASH_ROUND_4_FILL_S,
      WASH_ROUND_4_HEAT_S,
      WASH_ROUND_4_SPRAY_S,
      WASH_ROUND_4_SPRAY_ELEMENT_S,
      WASH_ROUND_4_SETPOINT_DC,
      WASH_ROUND_4_REST_S,
      WASH_ROUND_4_DRAIN_S,
      WASH_ROUND_4_DETERGENT_DG },
};

/* A row of it; number counts from 0 */
static inline const wash_round_t *wash_round(uint8_t number) { return &wash_rounds[number]; }

#endif /* SCULLION_WASH_TIMING_H */
