//! Windings against identities that need no table: balance of everything that can be laid out,
//! plain integration, permuted phases, and the faults of layouts that people write.

#![expect(
    clippy::unwrap_used,
    reason = "a layout that cannot be read fails the check"
)]

use std::collections::BTreeSet;
use std::f64::consts::{PI, TAU};

use proptest::prelude::*;
use wyebench::winding::{
    CoilSide, Phase, Winding, WindingError, feasible, format_layout, gcd, parse_layout,
};

#[track_caller]
fn near(got: f64, wanted: f64, tolerance: f64, what: &str) {
    assert!(
        (got - wanted).abs() <= tolerance,
        "{what}: got {got}, wanted {wanted} ± {tolerance}"
    );
}

/// Every feasible pair up to 72 slots and 80 poles is laid out, tooth coils and full pitch, one
/// layer and two; V follows U by 120° and W by 240°; what is written is read back.
#[test]
fn every_feasible_pair_is_laid_out() {
    let mut n_windings = 0;
    for slots in 3..=72 {
        for poles in (2..=80).step_by(2) {
            if feasible(slots, poles).is_err() {
                continue;
            }
            let spans = BTreeSet::from([1, (slots / poles).max(1), slots / 2]);
            for (layers, span) in [1, 2]
                .into_iter()
                .flat_map(|l| spans.iter().map(move |s| (l, *s)))
            {
                let what = format!("{slots} slots {poles} poles {layers} layers span {span}");
                let winding = match Winding::lay_out(slots, poles, layers, span) {
                    Ok(winding) => winding,
                    Err(WindingError::SpanLinksNothing { .. }) => {
                        assert_eq!(poles / 2 * span % slots, 0, "{what}");
                        continue;
                    }
                    Err(WindingError::NoSingleLayer { .. }) => {
                        assert_eq!((layers, slots / gcd(slots, span) % 2), (1, 1), "{what}");
                        continue;
                    }
                    Err(other) => panic!("{what}: {other}"),
                };
                n_windings += 1;
                let angle = |phase| winding.phasor(phase, 1).angle_rad();
                for (phase, place) in [(Phase::V, TAU / 3.0), (Phase::W, 2.0 * TAU / 3.0)] {
                    let lag = (angle(phase) - angle(Phase::U)).rem_euclid(TAU);
                    near(lag, place, 1e-9, &what);
                }
                assert!(!winding.phase_order_reversed(), "{what}");
                let factor = winding.factor(1);
                assert!(factor.total > 0.0 && factor.total <= 1.0 + 1e-12, "{what}");
                near(factor.in_phase, factor.total, 1e-12, &what);
                let product = factor.pitch.unwrap() * factor.distribution.unwrap();
                near(factor.total, product, 1e-12, &what);
                let sides = parse_layout(&format_layout(winding.sides())).unwrap();
                let read = Winding::from_layout(slots, poles, layers, &sides).unwrap();
                assert_eq!(read.sides(), winding.sides(), "{what}");
                assert_eq!(read.factor(5).total, winding.factor(5).total, "{what}");
                assert!(
                    read.coil_span().is_some_and(|found| found <= span),
                    "{what}"
                );
            }
        }
    }
    assert!(n_windings > 1900, "{n_windings}");
}

/// EMF of a phase by plain integration: the winding function against a field cos(n p (x − pole)),
/// differentiated in the pole's place, summed over the steps between slots in closed form.
fn emf_by_integration(winding: &Winding, phase: Phase, order: u32, pole_mech_rad: f64) -> f64 {
    const STEPS: u32 = 400;
    let order_mech = f64::from(order * winding.pole_pairs());
    let slot_rad = TAU / f64::from(winding.slots());
    let mut sum = 0.0;
    for (slot, level) in (0..winding.slots()).zip(winding.winding_function(phase)) {
        for step in 0..STEPS {
            // Midpoint rule over the part of the bore between two slots.
            let place = slot_rad * (f64::from(slot) + (f64::from(step) + 0.5) / f64::from(STEPS));
            sum += level * order_mech * libm::sin(order_mech * (place - pole_mech_rad));
        }
    }
    sum * slot_rad / f64::from(STEPS)
}

/// The signed factors of all orders, and the place of the magnets at θe = 0, against integration;
/// the phases come out in the order U, V, W with e_u rising through zero.
#[test]
fn factors_agree_with_plain_integration() {
    let cases = [
        (12, 14, 2, 1),
        (12, 10, 1, 1),
        (9, 8, 2, 1),
        (15, 4, 2, 4),
        (24, 4, 2, 5),
        (12, 14, 2, 2),
    ];
    for (slots, poles, layers, span) in cases {
        let winding = Winding::lay_out(slots, poles, layers, span).unwrap();
        let n_sides = f64::from(slots * layers) / 3.0;
        for order in [1, 2, 3, 4, 5, 7, 11, 13] {
            let factor = winding.factor(order);
            for theta_elec_deg in [0.0, 20.0, 90.0, 200.0, 310.0] {
                let theta_elec_rad = f64::to_radians(theta_elec_deg);
                let pole = (theta_elec_rad + winding.pole_at_zero_elec_rad())
                    / f64::from(winding.pole_pairs());
                for (phase, lag) in [
                    (Phase::U, 0.0),
                    (Phase::V, TAU / 3.0),
                    (Phase::W, -TAU / 3.0),
                ] {
                    let angle = f64::from(order) * (theta_elec_rad - lag);
                    let wanted = n_sides
                        * (factor.in_phase * libm::sin(angle)
                            + factor.quadrature * libm::cos(angle));
                    let got = emf_by_integration(&winding, phase, order, pole);
                    // Midpoint rule: error (order · pole pairs · step)²/24 of a part, below 1e-4.
                    let what = format!(
                        "{slots}/{poles}/{layers}/{span} n {order} {phase} {theta_elec_deg}°"
                    );
                    near(got, wanted, 1e-3 * n_sides, &what);
                }
            }
        }
    }
}

/// The harmonics of the winding function against its Fourier integral, midpoint rule as above.
#[test]
fn winding_function_harmonics_agree_with_integration() {
    let winding = Winding::lay_out(12, 10, 2, 1).unwrap();
    let levels = winding.winding_function(Phase::U);
    for order in [1_u32, 2, 5, 7, 17] {
        let (mut re, mut im) = (0.0, 0.0);
        for step in 0..12_000_u32 {
            let place = TAU * (f64::from(step) + 0.5) / 12_000.0;
            let level = levels[step as usize / 1000];
            re += level * libm::cos(f64::from(order) * place) * TAU / 12_000.0;
            im += level * libm::sin(f64::from(order) * place) * TAU / 12_000.0;
        }
        near(
            libm::hypot(re, im) / PI,
            winding.winding_function_harmonic(order),
            1e-5,
            "order",
        );
    }
}

fn sides(text: &str) -> Vec<CoilSide> {
    parse_layout(text).unwrap()
}

#[test]
fn faults_of_a_written_layout_are_named() {
    let err = |slots, poles, layers, text| {
        Winding::from_layout(slots, poles, layers, &sides(text)).unwrap_err()
    };
    assert!(matches!(
        err(3, 2, 2, "+U -V"),
        WindingError::SideCount { found: 2, .. }
    ));
    assert!(matches!(
        err(6, 2, 1, "+U -U +U -U +V -W"),
        WindingError::UnequalPhases { counts: [4, 1, 1] }
    ));
    assert!(matches!(
        err(6, 2, 1, "+U +U +V -V +W -W"),
        WindingError::SignsDoNotCancel {
            phase: Phase::U,
            towards: 2,
            away: 0
        }
    ));
    // Neighbours of one phase: U and its followers sit 120° apart, so this is balanced.
    assert!(Winding::from_layout(6, 2, 1, &sides("+U -U +V -V +W -W")).is_ok());
    // W turned round: its phasor is half a turn off.
    match err(6, 2, 1, "+U -U +V -V -W +W") {
        WindingError::Unbalanced {
            phase,
            magnitude_ratio,
            angle_off_deg,
            ..
        } => {
            assert_eq!(phase, Phase::W);
            near(magnitude_ratio, 1.0, 1e-12, "ratio");
            near(angle_off_deg.abs(), 180.0, 1e-9, "angle");
        }
        other => panic!("{other}"),
    }
    // Written tooth by tooth from the middle of slot 0: named as such.
    let tooth_by_tooth = err(3, 2, 2, "+U -U +V -V +W -W");
    assert!(
        tooth_by_tooth.to_string().contains("move the first entry"),
        "{tooth_by_tooth}"
    );
}

#[test]
fn a_layout_in_the_other_phase_order_is_taken_and_said() {
    let table = sides("+U -U -V +V +W -W -U +U +V -V -W +W");
    let ten = Winding::from_coils(12, 10, 1, &table).unwrap();
    let fourteen = Winding::from_coils(12, 14, 1, &table).unwrap();
    assert_eq!(
        (ten.phase_order_reversed(), fourteen.phase_order_reversed()),
        (false, true)
    );
    near(
        ten.factor(1).total,
        fourteen.factor(1).total,
        1e-12,
        "12/10 and 12/14",
    );
}

#[test]
fn spans_and_layers_that_cannot_be_are_named() {
    assert_eq!(
        Winding::lay_out(12, 14, 3, 1),
        Err(WindingError::Layers { found: 3 })
    );
    assert_eq!(
        Winding::lay_out(12, 14, 2, 0),
        Err(WindingError::Span {
            found: 0,
            slots: 12
        })
    );
    assert_eq!(
        Winding::lay_out(12, 14, 2, 12),
        Err(WindingError::Span {
            found: 12,
            slots: 12
        })
    );
    assert!(matches!(
        Winding::lay_out(12, 4, 2, 6),
        Err(WindingError::SpanLinksNothing { .. })
    ));
    assert_eq!(
        Winding::lay_out(18, 2, 1, 8),
        Err(WindingError::NoSingleLayer {
            coil_span: 8,
            slots: 18,
            nearest: vec![7, 9]
        })
    );
    assert!(
        Winding::lay_out(9, 8, 1, 1)
            .unwrap_err()
            .to_string()
            .contains("two layers")
    );
}

proptest! {
    /// Renaming the phases in a circle keeps the factors and the phase order; exchanging two
    /// reverses the order only.
    #[test]
    fn permuted_phases_give_permuted_results(k in 1_u32..16, p in 1_u32..20, span in 1_u32..6) {
        let Ok(winding) = Winding::lay_out(3 * k, 2 * p, 2, span) else { return Ok(()) };
        let renamed = |names: [Phase; 3]| {
            let sides: Vec<CoilSide> = winding
                .sides()
                .iter()
                .map(|side| CoilSide { phase: names[side.phase.idx()], ..*side })
                .collect();
            Winding::from_layout(3 * k, 2 * p, 2, &sides).unwrap()
        };
        let circle = renamed([Phase::V, Phase::W, Phase::U]);
        let exchanged = renamed([Phase::U, Phase::W, Phase::V]);
        prop_assert!(!circle.phase_order_reversed());
        prop_assert!(exchanged.phase_order_reversed());
        for order in [1, 2, 5, 7] {
            let total = winding.factor(order).total;
            prop_assert!((circle.factor(order).total - total).abs() < 1e-12);
            prop_assert!((exchanged.factor(order).total - total).abs() < 1e-12);
        }
    }

    /// No numbers, however odd, panic or give a factor that is not a number.
    #[test]
    fn no_numbers_panic(slots in 0_u32..1300, poles in 0_u32..1300, layers in 0_u32..4, span: u32) {
        if let Ok(winding) = Winding::lay_out(slots, poles, layers, span % 1400) {
            let factor = winding.factor(13);
            prop_assert!(factor.total.is_finite() && factor.distribution.unwrap().is_finite());
        }
        let _ = Winding::lay_out(slots, poles, layers, span).map_err(|error| error.to_string());
    }

    /// Any layout of the right letters is either balanced or refused in words.
    #[test]
    fn any_layout_is_taken_or_refused(codes in proptest::collection::vec(0_u8..6, 24)) {
        let sides: Vec<CoilSide> = codes
            .iter()
            .map(|code| CoilSide {
                phase: Phase::ALL[usize::from(code % 3)],
                towards_viewer: *code < 3,
            })
            .collect();
        if let Err(error) = Winding::from_layout(12, 14, 2, &sides) {
            prop_assert!(!error.to_string().is_empty());
        }
    }
}
