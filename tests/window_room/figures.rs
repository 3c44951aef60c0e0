//! Figures and their explanations.

use egui::Key;
use egui_kittest::kittest::{NodeT as _, Queryable as _};

use super::{click, count, press, run_for, window};

/// Six stand large, the rest behind one button, as the terminal names them.
#[test]
fn every_figure_of_a_run_is_listed() {
    let mut window = window([1360.0, 860.0]);
    window.get_by_label("mean speed: –");
    run_for(&mut window, 7, 40);
    for name in [
        "mean speed: ",
        "mean torque: ",
        "torque ripple, peak to peak: ",
        "mean supply current: ",
        "supply power: ",
        "efficiency: ",
    ] {
        let figure = window.get_by_label_contains(name);
        let label = figure.accesskit_node().label().unwrap();
        assert!(label.chars().any(|c| c.is_ascii_digit()), "{label}");
    }
    click(&mut window, "All figures");
    for name in [
        "mean speed: ",
        "final speed: ",
        "electrical frequency: ",
        "mean torque: ",
        "torque ripple, peak to peak: ",
        "torque ripple, RMS: ",
        "mean load torque: ",
        "mean supply current: ",
        "RMS supply current: ",
        "RMS phase current: ",
        "peak phase current: ",
        "supply power: ",
        "shaft power: ",
        "copper loss: ",
        "bridge loss: ",
        "friction loss: ",
        "efficiency: ",
        "energy residual: ",
        "measuring window: ",
        "window taken over: ",
        "step changes: ",
        "in step: ",
        "warnings: ",
    ] {
        assert!(count(&window, name) >= 1, "{name}");
    }
}

/// The explanation is the terminal's: formula, numbers put in, source. Esc takes it away.
#[test]
fn a_click_on_a_figure_says_where_it_comes_from() {
    let mut window = window([1360.0, 860.0]);
    run_for(&mut window, 7, 40);
    window.get_by_label_contains("efficiency: ").click();
    window.run_steps(3);
    window.get_by_label("η = P_shaft / P");
    let put_in = window.get_by_label_contains(" W / ");
    let words = put_in.accesskit_node().value().unwrap();
    assert!(words.starts_with("η = "), "{words}");
    window.get_by_label("definition, see DEVELOPERS.md, steady figures");
    press(&mut window, Key::Escape);
    assert_eq!(count(&window, "P_shaft / P"), 0, "closed");
}

/// Enter on a figure in the list does the same, and Esc goes back to the list, then to the room.
#[test]
fn enter_opens_a_figure_of_the_list_and_esc_goes_back() {
    let mut window = window([1360.0, 860.0]);
    run_for(&mut window, 7, 40);
    press(&mut window, Key::F);
    window.get_by_label_contains("copper loss: ").focus();
    window.run_steps(2);
    window.key_press(Key::Enter);
    window.run_steps(3);
    window.get_by_label("copper_loss_w");
    press(&mut window, Key::Escape);
    window.get_by_label_contains("friction loss: ");
    press(&mut window, Key::Escape);
    assert_eq!(count(&window, "friction loss: "), 0);
}

/// Means over whole turns stand still where the instant does not: within the last digits shown,
/// over a hundred frames of a steady run.
#[test]
fn the_mean_speed_does_not_jump() {
    let mut window = window([1360.0, 860.0]);
    run_for(&mut window, 7, 60);
    let speed = |window: &super::Window| -> f64 {
        let node = window.get_by_label_contains("mean speed: ");
        let label = node.accesskit_node().label().unwrap();
        let number = label.trim_start_matches("mean speed: ");
        number.trim_end_matches(" rpm").parse().unwrap()
    };
    let mut seen = Vec::new();
    for _ in 0..6 {
        click(&mut window, "Slower");
    }
    click(&mut window, "Run");
    for _ in 0..100 {
        window.run_steps(1);
        seen.push(speed(&window));
    }
    let low = seen.iter().copied().fold(f64::INFINITY, f64::min);
    let high = seen.iter().copied().fold(0.0, f64::max);
    assert!(low > 5000.0 && high - low <= 30.0, "{low} to {high} rpm");
}
