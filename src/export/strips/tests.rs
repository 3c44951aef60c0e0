use super::*;
use crate::analysis::{EnergyAccount, RunEnd, RunFigures, Scales, WindowKind, WindowTotals};
use crate::export::synthetic;
use resvg::usvg;

/// Figures that go with the synthetic run, near enough for a picture.
fn figures() -> Vec<Figure> {
    let t = 0.014;
    let totals = WindowTotals {
        start_s: 0.002,
        end_s: 0.002 + t,
        kind: WindowKind::MechanicalTurns,
        turns: 1,
        angle_mech_rad: TAU,
        torque_nm_s: 0.117 * t,
        torque_squared_s: 0.0139 * t,
        torque_min_nm: 0.089,
        torque_max_nm: 0.126,
        load_torque_nm_s: 0.116 * t,
        supply_charge_as: 5.6 * t,
        supply_current_squared_s: 44.8 * t,
        phase_current_squared_s: [42.0 * t, 42.0 * t, 42.0 * t],
        phase_current_peak_a: 8.15,
        supply_energy_j: 62.2 * t,
        shaft_work_j: 52.0 * t,
        copper_j: 5.7 * t,
        bridge_j: 3.1 * t,
        friction_j: 0.7 * t,
        commutations: 42,
    };
    let account = EnergyAccount {
        supply_j: 62.2,
        shaft_j: 52.0,
        friction_j: 0.7,
        copper_j: 5.7,
        bridge_j: 3.1,
        magnetic_change_j: 0.0,
        capacitor_change_j: 0.0,
        kinetic_change_j: 0.7,
        cogging_change_j: 0.0,
        by_hand_j: 0.0,
        turnover_j: 0.0,
    };
    let end = RunEnd {
        pole_pairs: 7,
        final_speed_rad_s: 448.8,
        commutations: 48,
        in_step: true,
        warnings: Vec::new(),
        scales: Scales::default(),
    };
    RunFigures::from_totals(&totals, &account, &end).1
}

fn draw(record: &Record, theme: &Theme, span_s: Option<(f64, f64)>) -> Picture {
    let figures = figures();
    Strips {
        title: "Pond aerator on three cells",
        subtitle: "outrunner, 12 slots, 14 poles, star · steps by position · 40 kHz, duty 0.7 · 11.1 V",
        record,
        figures: &figures,
        theme,
        span_s,
    }
    .draw()
}

/// The boxes of all words: left, top, right, bottom.
fn words_of(group: &usvg::Group, found: &mut Vec<(String, [f32; 4])>) {
    for node in group.children() {
        match node {
            usvg::Node::Group(group) => words_of(group, found),
            usvg::Node::Text(text) => {
                let words = text
                    .chunks()
                    .iter()
                    .map(|chunk| chunk.text().to_owned())
                    .collect();
                let rect = text.abs_bounding_box();
                found.push((
                    words,
                    [rect.left(), rect.top(), rect.right(), rect.bottom()],
                ));
            }
            _ => {}
        }
    }
}

fn assert_words_stand_apart(picture: &Picture) {
    let tree = picture.tree().unwrap();
    let mut found = Vec::new();
    words_of(tree.root(), &mut found);
    assert!(found.len() > 30, "{}", found.len());
    let (width, height) = (tree.size().width(), tree.size().height());
    for (k, (words, a)) in found.iter().enumerate() {
        assert!(
            a[0] >= 0.0 && a[1] >= 0.0 && a[2] <= width && a[3] <= height,
            "{words}"
        );
        for (other, b) in &found[k + 1..] {
            let overlap = a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
            assert!(!overlap, "`{words}` {a:?} lies on `{other}` {b:?}");
        }
    }
}

/// No words lie on others or outside, in either theme, for short and long spans. With
/// `WYEBENCH_PICTURES` set to a folder the pictures are written there to be looked at.
#[test]
fn words_stand_apart() {
    let record = synthetic::run();
    for (name, theme) in [("dark", Theme::DARK), ("light", Theme::LIGHT)] {
        for (span_name, span_s) in [
            ("turns", None),
            ("whole", Some((0.0, 0.016))),
            ("steps", Some((0.0101, 0.01052))),
        ] {
            let picture = draw(&record, &theme, span_s);
            assert_words_stand_apart(&picture);
            if let Some(folder) = std::env::var_os("WYEBENCH_PICTURES") {
                let folder = std::path::Path::new(&folder);
                let path = folder.join(format!("strips-{name}-{span_name}.png"));
                std::io::Write::write_all(
                    &mut std::fs::File::create(path).unwrap(),
                    &picture.png(1.5).unwrap(),
                )
                .unwrap();
            }
        }
    }
}

/// One sample out of place by far reaches its height in the picture of the whole run.
#[test]
fn a_peak_of_one_sample_is_drawn() {
    let mut record = Record::default();
    let whole = synthetic::run();
    let mut time_s = 0.0;
    for round in 0..10 {
        for (k, mut sample) in whole.samples().enumerate() {
            sample.time_s = time_s;
            if round == 4 && k == 1234 {
                sample.torque_nm = 5.0;
            }
            record.push_sample(&sample);
            time_s += 5e-6;
        }
    }
    let strips = Strips {
        title: "",
        subtitle: "",
        record: &record,
        figures: &[],
        theme: &Theme::DARK,
        span_s: Some((0.0, time_s)),
    };
    let span = Span {
        from_s: 0.0,
        to_s: time_s,
    };
    let d = strips.trace(Quantity::Torque, span, |value| value);
    assert!(d.contains(" 5L"), "no peak");
    let n_points = d.matches('L').count();
    assert!(n_points < 4 * 1700, "{n_points} points for 32 000 samples");
}

#[test]
fn an_empty_run_says_so() {
    let record = Record::default();
    let picture = draw(&record, &Theme::LIGHT, None);
    let mut found = Vec::new();
    words_of(picture.tree().unwrap().root(), &mut found);
    assert!(
        found
            .iter()
            .any(|(words, _)| words == "nothing was recorded")
    );
}

#[test]
fn the_same_run_gives_the_same_bytes() {
    let svg = |record: &Record| draw(record, &Theme::DARK, None).svg().unwrap();
    assert_eq!(svg(&synthetic::run()), svg(&synthetic::run()));
}

/// Four states of a fast PWM in one column are all seen.
#[test]
fn no_state_of_a_leg_disappears() {
    let record = synthetic::run();
    let figures = figures();
    let strips = Strips {
        title: "",
        subtitle: "",
        record: &record,
        figures: &figures,
        theme: &Theme::DARK,
        span_s: None,
    };
    let wide = Span {
        from_s: 0.0,
        to_s: 10.0,
    };
    for state in [LegState::High, LegState::Low, LegState::Floating] {
        let pieces = strips.pieces(0, state, wide);
        assert!(!pieces.is_empty(), "{state:?}");
        assert!(pieces.windows(2).all(|pair| pair[0].1 < pair[1].0));
        assert!(pieces.iter().all(|(from, to)| to > from));
    }
}
