//! Keys, the face for a projector, hints, and a name on every control.

use egui::{Event, Key, ViewportCommand};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use wyebench::app::{Deed, KEYS, KeyLine, Stride};

use super::bench::choose;
use super::{Window, click, count, picture, press, press_ctrl, run_for, window};

const SIZE: [f32; 2] = [1360.0, 860.0];

/// What is asked of the window system while a key is pressed.
fn press_and_hear(window: &mut Window, line: &KeyLine) -> Vec<ViewportCommand> {
    let mut heard = Vec::new();
    for pressed in [true, false] {
        let event = Event::Key {
            key: line.key,
            physical_key: None,
            pressed,
            repeat: false,
            modifiers: line.modifiers,
        };
        // One frame for the event and nothing else, so that its commands are not passed over.
        let events = &mut window.input_mut().events;
        events.push(Event::ModifiersChanged(line.modifiers));
        events.push(event);
        window.step();
        let outputs = window.output().viewport_output.values();
        heard.extend(outputs.flat_map(|output| output.commands.clone()));
    }
    let none = Event::ModifiersChanged(egui::Modifiers::NONE);
    window.input_mut().events.push(none);
    window.run_steps(2);
    heard
}

/// Presses each key of the list in a window that has something for it to do, and looks whether
/// it did. A key that is added to the list and not here fails.
#[test]
fn every_key_of_the_list_does_what_it_says() {
    for line in KEYS {
        let mut window = window(SIZE);
        run_for(&mut window, 2, 60);
        let before_s = window.state().time().cursor_s;
        let pace = window.state().time().pace();
        let step_back = |window: &Window| window.state().time().cursor_s < before_s;
        let went = match line.deed {
            Some(Deed::Open) => {
                press_and_hear(&mut window, line);
                count(&window, "Open a setup") == 1
            }
            Some(Deed::Save | Deed::SaveAs) => {
                // A setup that was never a file is asked for its name by both.
                press_and_hear(&mut window, line);
                count(&window, "Save the setup as") == 1
            }
            Some(Deed::Undo) => {
                press(&mut window, Key::D);
                choose(&mut window, "Connection", "delta");
                press_and_hear(&mut window, line);
                !window.state().is_changed()
            }
            Some(Deed::Redo) => {
                press(&mut window, Key::D);
                choose(&mut window, "Connection", "delta");
                click(&mut window, "Undo");
                press_and_hear(&mut window, line);
                window.state().is_changed()
            }
            Some(Deed::Figures) => {
                press_and_hear(&mut window, line);
                count(&window, "friction loss: ") == 1
            }
            Some(Deed::Bench) => {
                press_and_hear(&mut window, line);
                count(&window, "On the bench") == 1
            }
            Some(Deed::Hand) => {
                press_and_hear(&mut window, line);
                count(&window, "Hall sensors: ") == 1
            }
            Some(Deed::Parts) => {
                press_and_hear(&mut window, line);
                count(&window, "Leg W") == 1
            }
            Some(Deed::Winding) => {
                press_and_hear(&mut window, line);
                count(&window, "Winding by hand") == 1
            }
            Some(Deed::Predict) => {
                press_and_hear(&mut window, line);
                count(&window, "What limits first") == 1
            }
            Some(Deed::Readings) => {
                press_and_hear(&mut window, line);
                count(&window, "The readings agree") == 1
            }
            Some(Deed::Choose) => {
                press_and_hear(&mut window, line);
                count(&window, "Parts that would do") == 1
            }
            Some(Deed::Capture) => {
                press_and_hear(&mut window, line);
                count(&window, "Read a capture") == 1
            }
            Some(Deed::Beside) => {
                press_and_hear(&mut window, line);
                count(&window, "Machine B in cross-section") == 1
            }
            Some(Deed::Room) => {
                press_and_hear(&mut window, line);
                window.ctx.theme() == egui::Theme::Light
            }
            Some(Deed::FullScreen) => {
                let heard = press_and_hear(&mut window, line);
                heard.contains(&ViewportCommand::Fullscreen(true))
            }
            Some(Deed::Presenter) => {
                let heard = press_and_hear(&mut window, line);
                let gone = window.query_by_label("Setup").is_none();
                assert!(gone && !heard.is_empty(), "{heard:?}");
                gone && heard.contains(&ViewportCommand::Fullscreen(true))
            }
            Some(Deed::NextPicture) => {
                press(&mut window, Key::P);
                press_and_hear(&mut window, line);
                count(&window, "Machine in cross-section") == 1 && count(&window, "Bridge: U") == 0
            }
            Some(Deed::NextRow) => {
                press(&mut window, Key::P);
                let before = count(&window, "Waveforms over time: lead currents;");
                press_and_hear(&mut window, line);
                before == 1 && count(&window, "Waveforms over time: winding currents;") == 1
            }
            Some(Deed::Lessons) => {
                press_and_hear(&mut window, line);
                count(&window, "Lesson 1: ") == 1
            }
            Some(Deed::Talk) => {
                super::course::open(&mut window, "02-six-steps");
                press_and_hear(&mut window, line);
                count(&window, "1 of ") == 1 && count(&window, "On the bench") == 0
            }
            Some(Deed::ReadOn | Deed::ReadBack) => {
                super::course::open(&mut window, "02-six-steps");
                click(&mut window, "Read on without a guess");
                let top = |window: &Window| {
                    let title = window.get_by_label("Six steps make one electrical turn");
                    title.rect().top()
                };
                if line.key == Key::PageUp {
                    let modifiers = line.modifiers;
                    window.key_press_modifiers(modifiers, Key::PageDown);
                    window.run_steps(3);
                }
                let before = top(&window);
                press_and_hear(&mut window, line);
                match line.key {
                    Key::PageUp => top(&window) > before,
                    _ => top(&window) < before,
                }
            }
            Some(Deed::Keys) => {
                press_and_hear(&mut window, line);
                count(&window, "take the last change back") >= 1
            }
            Some(Deed::Leave) => {
                press(&mut window, Key::F);
                press_and_hear(&mut window, line);
                count(&window, "friction loss: ") == 0
            }
            None => {
                let scale = window.ctx.zoom_factor();
                if line.key == Key::Num0 {
                    window.ctx.set_zoom_factor(1.5);
                    window.run_steps(2);
                } else if matches!(line.key, Key::ArrowRight | Key::PageDown) {
                    press(&mut window, Key::ArrowLeft);
                    press(&mut window, Key::ArrowLeft);
                }
                let plain = line.modifiers == egui::Modifiers::NONE;
                let follows =
                    |window: &Window| window.get_by_label("Follow").accesskit_node().is_disabled();
                let waves = |window: &Window| {
                    let node = window.get_by_label_contains("Waveforms over");
                    node.accesskit_node().label().unwrap_or_default()
                };
                match line.key {
                    Key::End => press(&mut window, Key::Home),
                    Key::OpenBracket | Key::CloseBracket => press(&mut window, Key::A),
                    _ => {}
                }
                let (followed, said) = (follows(&window), waves(&window));
                let moved_s = window.state().time().cursor_s;
                press_and_hear(&mut window, line);
                let time = *window.state().time();
                match line.key {
                    Key::Space => time.running,
                    Key::ArrowLeft | Key::PageUp => step_back(&window),
                    Key::ArrowRight | Key::PageDown => time.cursor_s > moved_s,
                    Key::ArrowUp => time.pace() > pace,
                    Key::ArrowDown => time.pace() < pace,
                    Key::Num1 => time.stride == Stride::ALL[0],
                    Key::Num2 => time.stride == Stride::ALL[1],
                    Key::Num3 => time.stride == Stride::ALL[2],
                    Key::Num4 => time.stride == Stride::ALL[3],
                    Key::Plus | Key::Minus if plain => waves(&window) != said,
                    Key::Home => followed && !follows(&window),
                    Key::End => !followed && follows(&window),
                    Key::E => waves(&window).contains("electrical angle"),
                    Key::A => waves(&window).contains("cursor A at"),
                    Key::B => waves(&window).contains("cursor B at"),
                    Key::OpenBracket | Key::CloseBracket => waves(&window) != said,
                    Key::K => count(&window, "Drop") == 1,
                    Key::Plus => window.ctx.zoom_factor() > scale,
                    Key::Minus => window.ctx.zoom_factor() < scale,
                    Key::Num0 => window.ctx.zoom_factor() == 1.0,
                    other => panic!("nobody looks what {other:?} does"),
                }
            }
        };
        assert!(went, "{} should {}", line.shown, line.does);
    }
}

/// The sheet of keys prints the whole list.
#[test]
fn the_help_sheet_lists_every_key() {
    let mut window = window(SIZE);
    press(&mut window, Key::Questionmark);
    for line in KEYS {
        assert!(count(&window, line.does) >= 1, "{}", line.does);
        assert!(
            window.query_all_by_label(line.shown).count() >= 1,
            "{}",
            line.shown
        );
    }
    picture(&mut window, "keys");
}

#[test]
fn a_presenter_has_large_pictures_and_the_keys_and_esc_leaves() {
    let mut window = window([1920.0, 1080.0]);
    press(&mut window, Key::P);
    window.run_steps(4);
    assert!(
        window.ctx.zoom_factor() >= 1.7,
        "{}",
        window.ctx.zoom_factor()
    );
    for gone in ["Setup", "View", "Run", "All figures", "On the bench"] {
        assert!(window.query_by_label(gone).is_none(), "{gone}");
    }
    window.get_by_label_contains("Machine in cross-section");
    window.get_by_label_contains("Bridge: U");
    window.get_by_label_contains("Waveforms over time");
    press(&mut window, Key::Space);
    window.run_steps(60);
    press(&mut window, Key::Space);
    picture(&mut window, "presenter");
    let before_s = window.state().time().cursor_s;
    press(&mut window, Key::PageUp);
    assert!(window.state().time().cursor_s < before_s);
    press(&mut window, Key::ArrowDown);
    assert_eq!(count(&window, "stands still · 1 s here = 2 ms there"), 1);
    for _ in 0..2 {
        press(&mut window, Key::N);
    }
    assert_eq!(count(&window, "Machine in cross-section"), 0, "legs alone");
    picture(&mut window, "presenter_legs");
    // At rest nothing asks for another frame; this would run out of frames.
    window.run();
    press(&mut window, Key::Escape);
    window.run_steps(2);
    window.get_by_label("Setup");
    assert_eq!(window.ctx.zoom_factor(), 1.0);
}

#[test]
fn three_hints_are_put_away_for_good() {
    let home = tempfile::tempdir().unwrap();
    let open = || {
        let mut window = window(SIZE);
        let ctx = window.ctx.clone();
        window.state_mut().remember_in(home.path(), &ctx);
        window.run_steps(2);
        window
    };
    let mut first = open();
    for words in [
        "Space lets time run",
        "Click a figure",
        "D opens what stands",
    ] {
        assert_eq!(count(&first, words), 1, "{words}");
        click(&mut first, "Got it");
    }
    assert_eq!(count(&first, "Got it"), 0);
    assert_eq!(count(&open(), "Got it"), 0, "remembered");
}

#[test]
fn size_and_room_are_remembered() {
    let home = tempfile::tempdir().unwrap();
    let open = || {
        let mut window = window(SIZE);
        let ctx = window.ctx.clone();
        window.state_mut().remember_in(home.path(), &ctx);
        window.run_steps(3);
        window
    };
    let mut first = open();
    press_ctrl(&mut first, Key::Plus);
    press(&mut first, Key::L);
    let second = open();
    assert!((second.ctx.zoom_factor() - 1.1).abs() < 1e-3);
    assert_eq!(second.ctx.theme(), egui::Theme::Light);
}

/// How a face of the window is reached.
type Enter = fn(&mut Window);

/// Walks through everything that can have the keyboard or be clicked, in every face of the
/// window, and fails on the first control without a name.
#[test]
fn every_control_has_a_name() {
    let faces: [(&str, Enter); 18] = [
        ("room", |_| {}),
        ("drawer", |window| press(window, Key::D)),
        ("figures", |window| press(window, Key::F)),
        ("parts", |window| press(window, Key::I)),
        ("keys", |window| press(window, Key::Questionmark)),
        ("hand", |window| press(window, Key::H)),
        ("winding", |window| press(window, Key::Q)),
        ("beside", |window| press(window, Key::M)),
        ("readings", |window| press(window, Key::J)),
        ("prediction", |window| press(window, Key::G)),
        ("choosing", |window| press(window, Key::X)),
        ("captures", |window| press(window, Key::O)),
        ("open", |window| press_ctrl(window, Key::O)),
        ("setup menu", |window| click(window, "Setup")),
        ("view menu", |window| click(window, "View")),
        ("lessons", |window| press(window, Key::C)),
        ("lesson", |window| {
            super::course::open(window, "02-six-steps");
            click(window, "Read on without a guess");
        }),
        ("talk", |window| {
            super::course::open(window, "02-six-steps");
            press(window, Key::T);
        }),
    ];
    for (face, enter) in faces {
        let mut window = window(SIZE);
        run_for(&mut window, 2, 60);
        enter(&mut window);
        let mut n_controls = 0;
        for node in window.root().children_recursive() {
            let node = node.accesskit_node();
            let data = node.data();
            if data.role() == egui::accesskit::Role::ScrollBar {
                // The library's own; what it scrolls has the names.
                continue;
            }
            let takes = |action| data.supports_action(action);
            if !takes(egui::accesskit::Action::Focus) && !takes(egui::accesskit::Action::Click) {
                continue;
            }
            n_controls += 1;
            // A text is its own name.
            let own = node.label().or_else(|| node.value()).unwrap_or_default();
            let own = if data.role() == egui::accesskit::Role::TextInput {
                node.label().unwrap_or_default()
            } else {
                own
            };
            let labels = node.labelled_by().any(|label| {
                label
                    .label()
                    .or_else(|| label.value())
                    .is_some_and(|name| !name.trim().is_empty())
            });
            assert!(
                !own.trim().is_empty() || labels,
                "{face}: a {:?} at {:?} has no name",
                node.role(),
                node.bounding_box()
            );
        }
        let least = if face == "talk" { 2 } else { 5 };
        assert!(n_controls >= least, "{face}: {n_controls} controls");
    }
}

/// Esc takes away what lies on top, one thing at a time: a menu before a sheet.
#[test]
fn esc_takes_a_menu_before_a_sheet() {
    let mut window = window(SIZE);
    press(&mut window, Key::Questionmark);
    click(&mut window, "View");
    press(&mut window, Key::Escape);
    assert_eq!(count(&window, "Presenter"), 0, "the menu is gone");
    assert!(
        count(&window, "fill the screen, or not") == 1,
        "the sheet is there"
    );
    press(&mut window, Key::Escape);
    assert_eq!(count(&window, "fill the screen, or not"), 0);
}
