//! The course in the window: a lesson from its list to its end, free play and back, a talk.

use std::cell::RefCell;
use std::rc::Rc;
use std::time::Duration;

use egui::accesskit::Role;
use egui::{Event, Key, Modifiers, ViewportCommand, ViewportEvent, ViewportId};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use wyebench::app::Telling;
use wyebench::lesson::{LessonFiles, course};

use super::bench::choose;
use super::{Window, click, count, picture, press, press_ctrl, window};

const SIZE: [f32; 2] = [1280.0, 720.0];

/// Opens a lesson of the course by its folder and lets its runs be made.
fn opened(size: [f32; 2], folder: &str) -> Window {
    let mut window = window(size);
    open(&mut window, folder);
    window
}

/// The same in a window that is there.
pub(super) fn open(window: &mut Window, folder: &str) {
    let files = course::files(folder).unwrap();
    window.state_mut().open_lesson(files).unwrap();
    made(window);
}

/// Lets the runs of the open lesson be made.
fn made(window: &mut Window) {
    window.run_steps(3);
    for _ in 0..600 {
        window.run_steps(1);
        if count(window, "are being made") == 0 {
            break;
        }
    }
    window.run_steps(2);
    assert_eq!(count(window, "are being made"), 0);
}

/// What the control that has the keyboard is called.
fn focused(window: &Window) -> String {
    let nodes: Vec<_> = window.root().children_recursive().collect();
    let found = nodes.iter().find(|node| node.accesskit_node().is_focused());
    let Some(node) = found else {
        return String::new();
    };
    let node = node.accesskit_node();
    let labels: Vec<String> = node
        .labelled_by()
        .filter_map(|label| label.label().or_else(|| label.value()))
        .collect();
    match labels.first() {
        Some(label) => label.clone(),
        None => node.label().or_else(|| node.value()).unwrap_or_default(),
    }
}

/// Goes on with the tabulator until a control whose name begins so has the keyboard.
fn tab_to(window: &mut Window, name: &str) {
    let mut passed = Vec::new();
    for _ in 0..300 {
        window.key_press(Key::Tab);
        window.run_steps(2);
        let here = focused(window);
        if here.starts_with(name) {
            return;
        }
        passed.push(here);
    }
    panic!("no way to {name:?} with the keyboard; passed {passed:?}");
}

fn enter(window: &mut Window) {
    window.key_press(Key::Enter);
    window.run_steps(4);
}

/// Writes into the field that has the keyboard, in the place of what stands there.
fn write(window: &mut Window, text: &str) {
    window.key_press_modifiers(Modifiers::COMMAND, Key::A);
    window.run_steps(1);
    window.input_mut().events.push(Event::Text(text.to_owned()));
    window.run_steps(2);
    enter(window);
}

/// A whole lesson without a pointer: prediction, wrong figure with the reply that fits, right
/// one, a key on the bench until the motor turns, and the end.
#[test]
fn a_lesson_is_taken_by_keyboard() {
    let mut window = window(SIZE);
    press(&mut window, Key::C);
    picture(&mut window, "course_list");
    tab_to(&mut window, "Lesson 1: ");
    enter(&mut window);
    made(&mut window);
    assert_eq!(count(&window, "What you see"), 0, "the guess comes first");
    assert!(!window.state().time().running, "and before the run");
    picture(&mut window, "lesson_gate");
    tab_to(&mut window, "a) It begins to turn and goes on turning.");
    enter(&mut window);
    assert_eq!(count(&window, "Many expect that."), 1);
    assert_eq!(
        count(&window, "What you see"),
        1,
        "wrong is good enough to go on"
    );
    assert!(window.state().time().running, "and it is seen to happen");
    tab_to(&mut window, "b) It turns part of a turn and stops.");
    enter(&mut window);
    assert_eq!(count(&window, "Yes: into the direction of the field"), 1);
    window.run_steps(90);
    picture(&mut window, "lesson_guessed");
    tab_to(&mut window, "Your figure");
    write(&mut window, "330 deg");
    assert_eq!(
        count(&window, "Opposite the field the push is nothing too."),
        1
    );
    tab_to(&mut window, "Your figure");
    write(&mut window, "many");
    assert_eq!(count(&window, "This cannot be taken: "), 1);
    tab_to(&mut window, "Your figure");
    write(&mut window, "150 deg");
    assert_eq!(count(&window, "Right: 150"), 1);
    // More push alone does not do it, and the reply says why.
    tab_to(&mut window, "supply.voltage");
    write(&mut window, "4 V");
    tab_to(&mut window, "Check the bench");
    enter(&mut window);
    assert_eq!(count(&window, "With more voltage it gets there faster"), 1);
    assert!(count(&window, "At this moment: not yet") == 1);
    tab_to(&mut window, "drive.commutation");
    enter(&mut window);
    tab_to(&mut window, "position");
    enter(&mut window);
    for _ in 0..600 {
        window.run_steps(20);
        if count(&window, "3 of 3 tasks met") == 1 {
            break;
        }
    }
    assert_eq!(count(&window, "At this moment: met"), 1);
    assert_eq!(count(&window, "3 of 3 tasks met"), 1, "judged while it ran");
    picture(&mut window, "lesson_task");
    tab_to(&mut window, "Next lesson");
    enter(&mut window);
    made(&mut window);
    assert_eq!(count(&window, "Six steps make one electrical turn"), 1);
}

/// Hints come one at a time, and the worked answer last.
#[test]
fn hints_come_when_they_are_asked_for() {
    let mut window = opened(SIZE, "04-poles");
    for (button, words) in [
        ("A nudge", "Nudge"),
        ("A way", "Way"),
        ("Worked answer", "Worked answer"),
    ] {
        assert_eq!(
            window.query_all_by_label(words).count(),
            usize::from(button == words)
        );
        click(&mut window, button);
        assert_eq!(window.query_all_by_label(words).count(), 1, "{words}");
    }
    assert_eq!(count(&window, "A nudge"), 0);
}

/// An order is put right with its buttons; a list that is backwards is told so.
#[test]
fn an_order_is_checked() {
    let mut window = opened([1280.0, 1400.0], "02-six-steps");
    click(&mut window, "b) 6");
    let check = |window: &mut Window| {
        window.get_by_label("Check the order").click_accesskit();
        window.run_steps(3);
    };
    check(&mut window);
    assert_eq!(count(&window, "two neighbours of your list differ"), 1);
    let wanted = ["10z", "1z0", "z10", "01z", "0z1", "z01"];
    for (place, state) in wanted.iter().enumerate() {
        // up until its button has nowhere to go, or stands under those that are right
        for _ in place..6 {
            let before: Vec<f32> = wanted
                .iter()
                .map(|state| {
                    window
                        .get_by_label_contains(&format!("Earlier: {state}: "))
                        .rect()
                        .top()
                })
                .collect();
            let above = before.iter().filter(|top| **top < before[place]).count();
            if above == place {
                break;
            }
            window
                .get_by_label_contains(&format!("Earlier: {state}: "))
                .click_accesskit();
            window.run_steps(3);
        }
    }
    check(&mut window);
    assert_eq!(count(&window, "Right."), 1);
}

/// What was done is there again in a window of another day.
#[test]
fn progress_survives_a_new_start() {
    let home = tempfile::tempdir().unwrap();
    let start = || {
        let mut window = window(SIZE);
        let ctx = window.ctx.clone();
        window.state_mut().remember_in(home.path(), &ctx);
        window.run_steps(2);
        window
    };
    let mut first = start();
    open(&mut first, "04-poles");
    click(&mut first, "c) half as fast");
    drop(first);
    let mut second = start();
    press(&mut second, Key::C);
    assert_eq!(
        count(
            &second,
            "Lesson 4: Poles: more magnets, slower on the same clock, 1 of 3 tasks met"
        ),
        1
    );
    second.get_by_label_contains("Lesson 4: ").click();
    made(&mut second);
    assert_eq!(
        count(&second, "What is counted"),
        1,
        "the prediction was made"
    );
    let picked = second.get_by_label("c) half as fast");
    assert_eq!(
        picked.accesskit_node().toggled(),
        Some(egui::accesskit::Toggled::True)
    );
    // A damaged file is an empty one, and the window opens.
    std::fs::write(home.path().join("course.toml"), "last = [").unwrap();
    let mut third = start();
    press(&mut third, Key::C);
    assert_eq!(count(&third, ", 0 of "), 16);
}

fn ask_to_close(window: &mut Window) -> bool {
    let viewports = &mut window.input_mut().viewports;
    let info = viewports.entry(ViewportId::ROOT).or_default();
    info.events.push(ViewportEvent::Close);
    window.step();
    let viewports = &mut window.input_mut().viewports;
    viewports
        .entry(ViewportId::ROOT)
        .or_default()
        .events
        .clear();
    let outputs = window.output().viewport_output.values();
    let kept = outputs
        .flat_map(|output| &output.commands)
        .any(|command| *command == ViewportCommand::CancelClose);
    window.run_steps(2);
    kept
}

/// The person's own bench, changed and in no file, is put aside as it is and comes back with its
/// history; play with the lesson's setup keeps the place and can be undone both ways.
#[test]
fn free_play_and_back_lose_nothing() {
    let mut window = window(SIZE);
    press(&mut window, Key::D);
    choose(&mut window, "Connection", "delta");
    press(&mut window, Key::D);
    assert!(window.state().is_changed());
    open(&mut window, "08-pwm");
    assert_eq!(count(&window, "On the bench: the run"), 1);
    assert!(
        !window.state().is_changed(),
        "the lesson's setup is as it is"
    );
    click(&mut window, "Read on without a guess");
    press(&mut window, Key::D);
    choose(&mut window, "Chop mode", "both-sides");
    press(&mut window, Key::D);
    assert_eq!(count(&window, "On the bench: your free play"), 1);
    assert_eq!(count(&window, "Why not a resistor"), 1, "the place is kept");
    click(&mut window, "Back to the lesson");
    assert_eq!(count(&window, "On the bench: the run"), 1);
    press_ctrl(&mut window, Key::Z);
    assert_eq!(count(&window, "On the bench: your free play"), 1, "undone");
    click(&mut window, "My bench");
    assert_eq!(count(&window, "On the bench: your own setup"), 1);
    assert_eq!(count(&window, "• Pond aerator"), 1, "as it was");
    assert!(window.state().is_changed());
    press_ctrl(&mut window, Key::Z);
    assert!(!window.state().is_changed(), "with its history");
    press_ctrl(&mut window, Key::Y);
    // A window that is closed while a lesson stands there asks about the own bench all the same.
    click(&mut window, "Back to the lesson");
    assert_eq!(count(&window, "• Pond aerator"), 0);
    assert!(ask_to_close(&mut window));
    assert_eq!(
        count(&window, "“Pond aerator on three cells” has been changed."),
        1
    );
    click(&mut window, "Keep editing");
    assert_eq!(count(&window, "• Pond aerator"), 1);
}

/// What a person made of a lesson's setup is not lost by going back to the own bench and closing.
#[test]
fn free_play_that_was_left_is_asked_about() {
    let mut window = window(SIZE);
    open(&mut window, "08-pwm");
    click(&mut window, "Read on without a guess");
    click(&mut window, "My bench");
    assert!(!ask_to_close(&mut window), "nothing was made of it");
    click(&mut window, "Back to the lesson");
    press(&mut window, Key::D);
    choose(&mut window, "Chop mode", "both-sides");
    press(&mut window, Key::D);
    click(&mut window, "My bench");
    assert!(!window.state().is_changed());
    assert!(ask_to_close(&mut window));
    assert_eq!(
        count(&window, "has been changed. Save it before closing?"),
        1
    );
    click(&mut window, "Keep editing");
    assert_eq!(
        count(&window, "On the bench: your free play"),
        1,
        "and is seen"
    );
    click(&mut window, "My bench");
    assert_eq!(count(&window, "On the bench: your own setup"), 1);
}

/// Hidden and shown again, a lesson is where it was.
#[test]
fn a_hidden_lesson_keeps_its_place() {
    let mut window = opened(SIZE, "04-poles");
    click(&mut window, "c) half as fast");
    press(&mut window, Key::C);
    assert_eq!(count(&window, "What is counted"), 0);
    press(&mut window, Key::C);
    assert_eq!(count(&window, "What is counted"), 1);
    click(&mut window, "All lessons");
    window.get_by_label_contains("Lesson 4: ").click();
    window.run_steps(3);
    assert_eq!(count(&window, "What is counted"), 1);
}

/// A pointer opens what it points at and marks it; a term is explained.
#[test]
fn a_lesson_points_and_explains() {
    let mut window = opened([1920.0, 1080.0], "04-poles");
    click(&mut window, "Read on without a guess");
    assert_eq!(count(&window, "Slots"), 0, "the bench is closed");
    window.get_by_label_contains("4 poles: shows ").click();
    window.run_steps(3);
    assert!(
        window.query_all_by_label("Slots").count() >= 1,
        "the bench is open"
    );
    picture(&mut window, "lesson_points");
    tab_to(&mut window, "pole");
    enter(&mut window);
    assert_eq!(
        count(
            &window,
            "One magnetic face of the rotor, a north or a south."
        ),
        1
    );
    picture(&mut window, "lesson_term");
    // A row that there is no room for comes first while it is pointed at.
    let mut small = opened(SIZE, "03-high-low-floating");
    click(&mut small, "Read on without a guess");
    tab_to(&mut small, "two switches: shows leg U");
    tab_to(
        &mut small,
        "row of currents: shows the row of lead currents",
    );
    assert_eq!(count(&small, "Waveforms over time: lead currents"), 1);
}

/// One key forwards and one back; a question waits for its answer; the motor comes after the
/// first prediction, with one plot.
#[test]
fn a_talk_goes_forwards_and_back() {
    let mut window = opened([1920.0, 1080.0], "07-load-current-stall");
    press(&mut window, Key::T);
    window.run_steps(3);
    assert_eq!(count(&window, "1 of "), 1);
    assert_eq!(count(&window, "On the bench: "), 0);
    press(&mut window, Key::PageDown);
    assert_eq!(count(&window, "Your guess first"), 1);
    assert_eq!(count(&window, "When it is held fast: "), 0, "not yet");
    // Hands are counted, a figure key for each choice, and stand beside the answer.
    assert_eq!(count(&window, "hands of"), 0);
    for _ in 0..3 {
        press(&mut window, Key::Num2);
    }
    press(&mut window, Key::Num1);
    assert_eq!(count(&window, "3 hands of 4"), 1);
    assert_eq!(count(&window, "1 hand of 4"), 1);
    picture(&mut window, "talk_hands");
    press(&mut window, Key::ArrowRight);
    assert_eq!(count(&window, "3 hands of 4"), 1);
    picture(&mut window, "talk_hands_answer");
    press(&mut window, Key::ArrowLeft);
    press(&mut window, Key::Num0);
    assert_eq!(count(&window, "hands of"), 0);
    press(&mut window, Key::ArrowRight);
    assert_eq!(count(&window, "The answer"), 1);
    assert_eq!(count(&window, "When it is held fast: "), 1);
    press(&mut window, Key::ArrowRight);
    assert_eq!(count(&window, "Machine in cross-section"), 1);
    assert_eq!(
        count(&window, "Waveforms over time: supply current;"),
        1,
        "one plot"
    );
    assert!(window.state().time().running);
    press(&mut window, Key::Space);
    assert!(!window.state().time().running);
    press(&mut window, Key::PageUp);
    assert_eq!(count(&window, "The answer"), 1);
    press(&mut window, Key::ArrowLeft);
    assert_eq!(count(&window, "Your guess first"), 1);
    // To the end, where it stays.
    for _ in 0..60 {
        press(&mut window, Key::ArrowRight);
    }
    assert_eq!(count(&window, "What stays"), 1);
    press(&mut window, Key::Escape);
    window.run_steps(2);
    assert_eq!(count(&window, "On the bench: "), 1, "back beside the bench");
}

/// Outside lessons a presenter shows one row, and picks it.
#[test]
fn a_presenter_picks_one_plot() {
    let mut window = window([1920.0, 1080.0]);
    press(&mut window, Key::P);
    assert_eq!(count(&window, "Waveforms over time: lead currents;"), 1);
    for row in ["winding currents", "phase back-EMF", "line back-EMF"] {
        press(&mut window, Key::R);
        assert_eq!(
            count(&window, &format!("Waveforms over time: {row};")),
            1,
            "{row}"
        );
    }
    for _ in 0..6 {
        press(&mut window, Key::R);
    }
    let all = "Waveforms over time: lead currents, phase back-EMF, torque, legs;";
    assert_eq!(count(&window, all), 1, "after the last those of the room");
}

/// Every lesson of the course in three sizes: it opens, is read to its end, is shown as a talk;
/// no control lies beyond the window.
#[test]
fn every_lesson_opens_at_three_sizes() {
    for size in [[1280.0, 720.0], [1920.0, 1080.0], [500.0, 900.0]] {
        let mut window = window(size);
        for folder in course::folders() {
            open(&mut window, folder);
            if let Some(on) = window.query_by_label("Read on without a guess") {
                on.click_accesskit();
                window.run_steps(2);
            }
            assert_eq!(count(&window, "cannot be shown"), 0, "{folder}");
            for _ in 0..8 {
                window.key_press_modifiers(Modifiers::SHIFT, Key::PageDown);
                window.run_steps(1);
            }
            let column = window.get_by_label("Hide").rect().right() + 8.0;
            for node in window.root().children_recursive() {
                let control = node.accesskit_node();
                if control.bounding_box().is_none() {
                    continue;
                }
                let roles = [
                    Role::Button,
                    Role::RadioButton,
                    Role::Link,
                    Role::TextInput,
                    Role::ComboBox,
                ];
                // of the column, which begins at the window's edge
                let of_column = node.rect().left() < column - 60.0;
                // in a narrow window the room lies under the column
                let column = if size[0] < 1200.0 { size[0] } else { column };
                if roles.contains(&control.role()) && of_column && node.rect().top() > 20.0 {
                    let right = node.rect().right();
                    let name = control.label();
                    assert!(right <= column, "{folder} at {size:?}: {name:?} to {right}");
                }
            }
            press(&mut window, Key::T);
            for _ in 0..6 {
                press(&mut window, Key::ArrowRight);
            }
            press(&mut window, Key::Escape);
            window.run_steps(2);
        }
    }
}

/// The files of lesson 4 with another text after the front matter, its tasks shown at the end.
fn hostile(body: &str) -> LessonFiles {
    let mut files = course::files("04-poles").unwrap();
    let text = files.texts["lesson.md"].clone();
    let front = text.find("\n+++\n").unwrap() + 5;
    let tasks =
        "\n\n{{task more-magnets}}\n\n{{task speed-of-fourteen}}\n\n{{task count-the-magnets}}\n";
    let text = format!("{}{body}{tasks}", &text[..front]);
    files.texts.insert("lesson.md".to_owned(), text);
    files
}

/// What comes from anywhere is text, however it is meant; what is too much is refused in words.
#[test]
fn a_hostile_lesson_is_harmless() {
    let wide = format!(
        "|{}\n|{}\n|{}\n",
        "a|".repeat(40),
        "-|".repeat(40),
        "x|".repeat(40)
    );
    let bodies = [
        "<script>alert(1)</script>\n\n<img src=x onerror=alert(1)>\n\n<a href=\"file:///etc\">out</a>".to_owned(),
        "W".repeat(30_000),
        "word ".repeat(9_000),
        format!("{}deep", "> ".repeat(8)),
        format!("{}deep", "- ".repeat(4)),
        wide,
        "# \u{1F600}\n\n\u{5D0}\u{5D1} right to left \u{4F60}\u{597D}\n\n```\n\t<b>\n```\n".to_owned(),
        "**bold *both* `code`** [term](term:pole) [gone](term:nothing) [lesson](lesson:99-none)".to_owned(),
        "a\n\n".repeat(15_000),
    ];
    for (n, body) in bodies.iter().enumerate() {
        let mut window = window(SIZE);
        // as in the window itself, where a letter that no font has is a box
        let tofu = egui::MissingGlyphPolicy::Tofu;
        window.ctx.set_missing_glyph_policy(tofu);
        window.state_mut().open_lesson(hostile(body)).unwrap();
        made(&mut window);
        let guess = window.query_by_label("c) half as fast");
        if let Some(guess) = guess {
            guess.click_accesskit();
        }
        window.run_steps(3);
        press(&mut window, Key::T);
        for _ in 0..4 {
            press(&mut window, Key::ArrowRight);
        }
        press(&mut window, Key::Escape);
        window.run_steps(2);
        window.get_by_label("Hide");
        if n == 0 {
            assert_eq!(count(&window, "<script>alert(1)</script>"), 1, "it is text");
        }
    }
    for body in [
        "> ".repeat(40),
        "[out](https://example.org)".to_owned(),
        "[nothing](see:row-noise)".to_owned(),
        "![x](file:///etc/passwd)".to_owned(),
        "x".repeat(70_000),
        "{{four.mean_speed_rpm".to_owned(),
    ] {
        let mut window = window(SIZE);
        assert!(
            window
                .state_mut()
                .open_lesson(hostile(&format!("{body} end")))
                .is_err()
        );
        window.run_steps(3);
        assert_eq!(count(&window, "The lesson was not opened"), 1);
        click(&mut window, "Close");
        window.get_by_label("Setup");
    }
}

/// Draws frames only as the window asks for them, at the time it asks for, until it rests.
fn until_rest(window: &mut Window) {
    for _ in 0..2_000 {
        window.step();
        let wait = window.output().viewport_output[&ViewportId::ROOT].repaint_delay;
        if wait == Duration::MAX {
            return;
        }
        let now_s = window.ctx.input(|input| input.time);
        window.input_mut().time = Some(now_s + wait.as_secs_f64().max(1.0 / 60.0));
    }
    panic!(
        "the window does not come to rest: {:?}",
        window.ctx.repaint_causes()
    );
}

/// A link to a task of a lesson leads there, and who listens outside is told of it although no
/// frame comes after the last one.
#[test]
fn a_link_leads_to_a_task_and_the_last_word_tells_it() {
    for (fragment, lesson, task) in [
        ("lesson=4&step=2", "04-poles", 2),
        (
            "step=3&lesson=01-why-a-magnet-turns",
            "01-why-a-magnet-turns",
            3,
        ),
        ("lesson=4&step=99", "04-poles", 3),
        ("lesson=4", "04-poles", 1),
    ] {
        let mut window = window([1366.0, 768.0]);
        let heard = Rc::new(RefCell::new(String::new()));
        let listener = Rc::clone(&heard);
        window.state_mut().tell_to(move |telling| {
            if let Telling::Shown(words) = telling {
                words.clone_into(&mut listener.borrow_mut());
            }
        });
        let ctx = window.ctx.clone();
        window.state_mut().open_address(fragment, &ctx);
        until_rest(&mut window);
        let shown: serde_json::Value = serde_json::from_str(&heard.borrow()).unwrap();
        assert_eq!(shown["lesson"], lesson, "{fragment}");
        assert_eq!(shown["lesson_ready"], true, "{fragment}");
        assert_eq!(shown["at_task"], task, "{fragment}");
    }
}

/// Roles are those of what a thing is, so that it is read out as such.
#[test]
fn things_are_called_what_they_are() {
    let mut window = opened(SIZE, "04-poles");
    click(&mut window, "c) half as fast");
    let role = |window: &Window, name: &str| window.get_by_label(name).accesskit_node().role();
    assert_eq!(role(&window, "What is counted"), Role::Heading);
    assert_eq!(role(&window, "c) half as fast"), Role::RadioButton);
    assert_eq!(role(&window, "pole pair"), Role::Link);
    assert_eq!(
        role(&window, "Table: poles, pole pairs, clock, speed"),
        Role::Table
    );
}
