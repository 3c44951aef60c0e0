//! The pages with a form that read a file: parts that would do, and captures.

use std::fs;

use egui::Key;
use egui::accesskit::Role;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use wyebench::choose::example_parts;
use wyebench::readings::capture::example_capture;

use super::pages::write;
use super::setups::drop_in;
use super::{Window, click, count, picture, press, window};

const SIZE: [f32; 2] = [1360.0, 860.0];
/// The sizes and faces in which each page is looked at.
const LOOKS: [([f32; 2], bool, &str); 4] = [
    ([1280.0, 720.0], true, "1280_dark"),
    ([1280.0, 720.0], false, "1280_light"),
    ([1920.0, 1080.0], true, "1920_dark"),
    ([1920.0, 1080.0], false, "1920_light"),
];

/// Looks at a window that waits for a thread: for minutes, where other programs keep the processor.
const MOST_LOOKS: u32 = 10_000;
const BETWEEN_LOOKS: std::time::Duration = std::time::Duration::from_millis(15);

/// Lets frames go by until these words are there; a thread or slices of a search are at work.
pub(super) fn wait_for(window: &mut Window, words: &str) {
    for _ in 0..MOST_LOOKS {
        window.run_steps(2);
        if count(window, words) > 0 {
            return;
        }
        std::thread::sleep(BETWEEN_LOOKS);
    }
    panic!("`{words}` never came");
}

/// Lets frames go by until these words are gone.
pub(super) fn wait_until_gone(window: &mut Window, words: &str) {
    for _ in 0..MOST_LOOKS {
        window.run_steps(2);
        if count(window, words) == 0 {
            return;
        }
        std::thread::sleep(BETWEEN_LOOKS);
    }
    panic!("`{words}` stays");
}

/// Chooses one of the words of a list by its name.
fn choose(window: &mut Window, list: &str, word: &str) {
    window
        .query_all_by_role_and_label(Role::ComboBox, list)
        .next()
        .unwrap()
        .click_accesskit();
    window.run_steps(3);
    window
        .query_all_by_label(word)
        .last()
        .unwrap()
        .click_accesskit();
    window.run_steps(3);
}

/// What a search comes to is the room's own answer; a goal that none meets says why; an answer goes
/// to the bench and to the predictions.
#[test]
fn parts_are_chosen_for_what_is_wanted() {
    let mut window = window(SIZE);
    press(&mut window, Key::X);
    wait_for(&mut window, "combinations meet the goal");
    let first = first_answer(&window);
    assert!(first.starts_with("1. "), "{first}");
    picture(&mut window, "choosing");
    click(&mut window, "Why the others do not");
    assert!(count(&window, "thrust") + count(&window, "duty") >= 1);
    assert_eq!(count(&window, "Parts in no answer"), 1);
    picture(&mut window, "choosing_why_not");
    click(&mut window, "What the goal asks");
    let value = "torque of the load then: ";
    window
        .query_all_by_label_contains(value)
        .next()
        .unwrap()
        .click_accesskit();
    window.run_steps(3);
    assert!(count(&window, "sum of the loads at that speed") >= 1);
    picture(&mut window, "choosing_asked");
    press(&mut window, Key::Escape);
    click(&mut window, "Answers");
    // more thrust than any of the drawers gives
    write(&mut window, "Thrust", "5 kN");
    wait_for(&mut window, "None of ");
    write(&mut window, "Thrust", "5");
    assert_eq!(count(&window, "The answers are those of the last goal"), 1);
    write(&mut window, "Thrust", "6 N");
    wait_for(&mut window, "combinations meet the goal");
    assert_eq!(first_answer(&window), first);
    choose(&mut window, "Best is", "longest run time");
    wait_for(&mut window, "combinations meet the goal");
    assert_ne!(first_answer(&window), first, "another order");
    window
        .get_by_label("Predict it: answer 1")
        .click_accesskit();
    window.run_steps(3);
    assert_eq!(count(&window, "What limits first"), 1);
    press(&mut window, Key::Escape);
    press(&mut window, Key::X);
    wait_for(&mut window, "combinations meet the goal");
    window
        .get_by_label("Put it on the bench: answer 1")
        .click_accesskit();
    window.run_steps(3);
    assert!(window.state().is_changed());
}

fn first_answer(window: &Window) -> String {
    let node = window.query_all_by_label_contains("1. ").next().unwrap();
    let node = node.accesskit_node();
    node.label().or_else(|| node.value()).unwrap_or_default()
}

/// A table of one's own is read from its path; one that cannot be read is told with its line, and the
/// parts stay.
#[test]
fn a_table_of_parts_is_read_from_a_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str, text: &str| {
        let path = folder.path().join(name);
        fs::write(&path, text).unwrap();
        path.display().to_string()
    };
    let few: Vec<&str> = example_parts()
        .lines()
        .filter(|line| !line.starts_with("motor,") || line.contains("M04"))
        .collect();
    let few = path("few.csv", &few.join("\n"));
    let bad = path("bad.csv", "part,name,kv\nmotor,A,920 rpm\n");
    let mut window = window(SIZE);
    press(&mut window, Key::X);
    wait_for(&mut window, "combinations meet the goal");
    write(&mut window, "File", &few);
    click(&mut window, "Read it");
    assert_eq!(count(&window, "From few.csv: 1 motors"), 1);
    wait_for(&mut window, "combinations meet the goal");
    write(&mut window, "File", &bad);
    click(&mut window, "Read it");
    assert!(count(&window, "bad.csv") >= 1, "told with its place");
    assert_eq!(
        count(&window, "From few.csv: 1 motors"),
        1,
        "the parts stay"
    );
    picture(&mut window, "choosing_bad_table");
    write(&mut window, "File", "/no/such/file.csv");
    click(&mut window, "Read it");
    assert_eq!(count(&window, "There is no /no/such/file.csv"), 1);
    click(&mut window, "Built-in parts");
    assert_eq!(count(&window, "From the built-in drawers"), 1);
}

/// The example is read and shown over the bench; other columns, a speed that contradicts, and a file
/// that is none are each told.
#[test]
fn a_capture_is_read_and_laid_over_the_bench() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = window(SIZE);
    press(&mut window, Key::O);
    wait_for(&mut window, "the order is U V W");
    assert_eq!(count(&window, "pole pairs: 7"), 1);
    assert!(count(&window, "a weak, cracked or shifted magnet") == 1);
    picture(&mut window, "capture");
    window
        .query_all_by_label_contains("Kv: ")
        .next()
        .unwrap()
        .click_accesskit();
    window.run_steps(3);
    assert_eq!(count(&window, "n / Û"), 1);
    press(&mut window, Key::Escape);
    click(&mut window, "Trace");
    wait_for(&mut window, "saved by an instrument, and simulated");
    picture(&mut window, "capture_trace");
    click(&mut window, "The bench, simulated at this speed");
    assert_eq!(count(&window, "and simulated"), 0);
    click(&mut window, "What it shows");
    // without its mark nothing says the speed
    choose(&mut window, "Mark of a turn", "none");
    wait_for(&mut window, "open: needs the speed");
    write(&mut window, "Speed", "1300 rpm ± 3 rpm");
    wait_for(&mut window, "which is no whole number");
    write(&mut window, "Speed", "1300");
    wait_for(&mut window, "is not a speed above 0 with its unit");
    assert_eq!(count(&window, "of the last capture that could be read"), 1);
    picture(&mut window, "capture_wrong");
    // how its fields are parted may be said, and taken back
    choose(&mut window, "Fields parted by", "tabs");
    wait_for(&mut window, "an invented capture: ");
    picture(&mut window, "capture_parted");
    choose(&mut window, "Fields parted by", "commas");
    wait_until_gone(&mut window, "an invented capture: ");
    assert_eq!(count(&window, "Decimal mark"), 1);
    choose(&mut window, "Fields parted by", "as the file shows");
    wait_until_gone(&mut window, "Decimal mark");
    write(&mut window, "Speed", "1204 rpm");
    wait_for(&mut window, "pole pairs: 7");
    choose(&mut window, "The motor is", "on its drive");
    wait_for(&mut window, "! ");
    // a file of one's own, and one that is no table
    let path = folder.path().join("own.csv");
    let shorter: Vec<String> = example_capture()
        .lines()
        .take(3000)
        .map(str::to_owned)
        .collect();
    fs::write(&path, shorter.join("\n")).unwrap();
    write(&mut window, "File", &path.display().to_string());
    click(&mut window, "Read it");
    wait_for(&mut window, "Shown: own.csv");
    let words = folder.path().join("words.csv");
    fs::write(&words, "no numbers\nat all\n").unwrap();
    write(&mut window, "File", &words.display().to_string());
    click(&mut window, "Read it");
    wait_for(&mut window, "none of 2 lines begins a table of numbers");
    assert_eq!(count(&window, "Shown: own.csv"), 1, "what was shown stays");
}

/// A file that is dropped goes to the page that is open, and the bench stays.
#[test]
fn a_dropped_file_is_read_by_the_page_that_is_open() {
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str, text: &str| {
        let path = folder.path().join(name);
        fs::write(&path, text).unwrap();
        path
    };
    let mut window = window(SIZE);
    press(&mut window, Key::O);
    wait_for(&mut window, "the order is U V W");
    let held = egui::HoveredFile::default();
    window.input_mut().hovered_files.push(held);
    window.run_steps(3);
    assert_eq!(count(&window, "Drop the file to read it here"), 1);
    window.input_mut().hovered_files.clear();
    drop_in(&mut window, &file("dropped.csv", &example_capture()));
    wait_for(&mut window, "Shown: dropped.csv");
    press(&mut window, Key::Escape);
    press(&mut window, Key::X);
    drop_in(&mut window, &file("drawers.csv", example_parts()));
    assert_eq!(count(&window, "From drawers.csv: 14 motors"), 1);
    press(&mut window, Key::Escape);
    assert!(!window.state().is_changed());
}

/// Both pages as a person sees them, in two sizes and two faces; in a small window form and results
/// take turns.
#[test]
fn pages_that_read_files_are_looked_at() {
    for (size, dark, name) in LOOKS {
        let mut window = window(size);
        if !dark {
            press(&mut window, Key::L);
        }
        press(&mut window, Key::X);
        wait_for(&mut window, "combinations meet the goal");
        picture(&mut window, &format!("look_choosing_{name}"));
        press(&mut window, Key::Escape);
        press(&mut window, Key::O);
        wait_for(&mut window, "the order is U V W");
        picture(&mut window, &format!("look_capture_{name}"));
        click(&mut window, "Trace");
        wait_for(&mut window, "saved by an instrument, and simulated");
        picture(&mut window, &format!("look_trace_{name}"));
        press(&mut window, Key::Escape);
        press(&mut window, Key::J);
        click(&mut window, "Each reading");
        picture(&mut window, &format!("look_readings_{name}"));
    }
    let mut window = window([620.0, 560.0]);
    press(&mut window, Key::X);
    click(&mut window, "Answers");
    wait_for(&mut window, "combinations meet the goal");
    picture(&mut window, "look_choosing_small");
}
