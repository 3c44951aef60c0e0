//! Setups as files: open, save, drop, reset, and no change lost without a word.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use egui::{Key, Modifiers, ViewportCommand, ViewportEvent, ViewportId};
use egui_kittest::kittest::Queryable as _;
use wyebench::setup::{Setup, built_in};

use super::bench::choose;
use super::{Window, click, count, picture, press, press_ctrl, window};

const SIZE: [f32; 2] = [1280.0, 720.0];

/// A folder with a second setup, ten poles instead of fourteen.
fn folder() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sluice.toml");
    let text = built_in()
        .replace("Pond aerator on three cells", "Sluice drive")
        .replace("poles = 14", "poles = 10");
    fs::write(&path, text).unwrap();
    (folder, path)
}

fn write_path(window: &mut Window, path: &Path) {
    let field = window.get_by_role_and_label(egui::accesskit::Role::TextInput, "Path");
    field.focus();
    window.run_steps(2);
    press_ctrl(window, Key::A);
    window
        .get_by_role_and_label(egui::accesskit::Role::TextInput, "Path")
        .type_text(&path.display().to_string());
    window.run_steps(3);
}

fn open(window: &mut Window, path: &Path) {
    press_ctrl(window, Key::O);
    write_path(window, path);
    click(window, "Open");
}

/// Changes one thing of the bench.
fn change(window: &mut Window) {
    if window.query_by_label("Connection").is_none() {
        press(window, Key::D);
    }
    choose(window, "Connection", "delta");
}

/// What the window asked of the window system in its last frame.
fn asked(window: &Window, wanted: impl Fn(&ViewportCommand) -> bool) -> bool {
    let outputs = window.output().viewport_output.values();
    outputs.flat_map(|output| &output.commands).any(wanted)
}

fn close(window: &mut Window) {
    let viewports = &mut window.input_mut().viewports;
    let info = viewports.entry(ViewportId::ROOT).or_default();
    info.events.push(ViewportEvent::Close);
    window.step();
    window
        .input_mut()
        .viewports
        .entry(ViewportId::ROOT)
        .or_default()
        .events
        .clear();
}

#[test]
fn a_setup_is_opened_by_its_path_and_runs() {
    let (_folder, path) = folder();
    let mut window = window(SIZE);
    press_ctrl(&mut window, Key::O);
    picture(&mut window, "open");
    write_path(&mut window, &path);
    window.get_by_label("sluice.toml");
    click(&mut window, "Open");
    window.get_by_label("Sluice drive");
    window.get_by_label_contains("12 slots, 10 poles");
    assert!(!window.state().is_changed());
    assert_eq!(window.state().path(), Some(path.as_path()));
}

/// A file that a person drops on the window.
#[derive(Debug)]
struct Dropped(PathBuf);

impl egui::DroppedFile for Dropped {
    fn path(&self) -> &Path {
        &self.0
    }
    fn bytes(&self) -> Result<Vec<u8>, String> {
        fs::read(&self.0).map_err(|error| error.to_string())
    }
}

/// Drops a file on the window.
pub(super) fn drop_in(window: &mut Window, path: &Path) {
    let file = Arc::new(Dropped(path.to_path_buf()));
    window.input_mut().dropped_files.push(file);
    window.run_steps(3);
}

#[test]
fn a_file_that_is_dropped_in_is_opened() {
    let (_folder, path) = folder();
    let mut window = window(SIZE);
    let drop = |window: &mut Window| drop_in(window, &path);
    window
        .input_mut()
        .hovered_files
        .push(egui::HoveredFile::default());
    window.run_steps(3);
    window.get_by_label("Drop the setup to put it on the bench");
    window.input_mut().hovered_files.clear();
    drop(&mut window);
    window.get_by_label("Sluice drive");
    change(&mut window);
    drop(&mut window);
    window.get_by_label("Changes are not saved");
    click(&mut window, "Keep editing");
    assert!(window.state().is_changed(), "nothing is lost");
}

/// Not one value of the setup is lost on the way to the file and back.
#[test]
fn save_as_writes_all_of_the_setup() {
    let (folder, _) = folder();
    let mut window = window(SIZE);
    change(&mut window);
    window.get_by_label("changed");
    press_ctrl(&mut window, Key::S);
    let path = folder.path().join("mine");
    write_path(&mut window, &path);
    click(&mut window, "Save");
    let path = path.with_extension("toml");
    let text = fs::read_to_string(&path).unwrap();
    let wanted = built_in().replace("connection = \"star\"", "connection = \"delta\"");
    assert_eq!(
        Setup::parse(&text, "mine").unwrap(),
        Setup::parse(&wanted, "wanted").unwrap()
    );
    assert!(!window.state().is_changed());
    window.get_by_label("mine.toml");
    // A person's comments stay, and so does the unit that was written.
    assert!(text.contains("# Tidemill evening workshop"), "{text}");
    assert!(text.contains("resistance = \"45 mohm\""));
    // Changed again, Ctrl S writes without a question.
    press_ctrl(&mut window, Key::Z);
    window.get_by_label("mine.toml · changed");
    press_ctrl(&mut window, Key::S);
    window.get_by_label("mine.toml");
    assert_ne!(fs::read_to_string(&path).unwrap(), text);
}

/// A file of another setup is not replaced by the first click.
#[test]
fn save_as_asks_before_it_replaces() {
    let (_folder, path) = folder();
    let before = fs::read_to_string(&path).unwrap();
    let mut window = window(SIZE);
    window.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::S);
    window.run_steps(3);
    write_path(&mut window, &path);
    click(&mut window, "Save");
    window.get_by_label("sluice.toml exists. Save once more to replace it.");
    assert_eq!(fs::read_to_string(&path).unwrap(), before);
    click(&mut window, "Save");
    assert_ne!(fs::read_to_string(&path).unwrap(), before);
}

/// A bad file: its line and remedy in a dialog; the motor that stood there runs on.
#[test]
fn a_bad_file_is_told_and_the_motor_runs_on() {
    let (folder, _) = folder();
    let path = folder.path().join("odd.toml");
    fs::write(&path, built_in().replace("poles = 14", "poles = 13")).unwrap();
    let mut window = window(SIZE);
    press(&mut window, Key::Space);
    open(&mut window, &path);
    window.get_by_label("odd.toml was not opened");
    assert!(count(&window, "12 or 14 poles would be even") == 1);
    let before_s = window.state().time().cursor_s;
    window.run_steps(20);
    assert!(window.state().time().cursor_s > before_s, "it runs");
    picture(&mut window, "bad_file");
    press(&mut window, Key::Escape);
    window.get_by_label("Pond aerator on three cells");
    window.get_by_label_contains("12 slots, 14 poles");
}

#[test]
fn closing_with_changes_asks() {
    let mut window = window(SIZE);
    close(&mut window);
    assert!(
        !asked(&window, |command| *command == ViewportCommand::CancelClose),
        "nothing to lose"
    );
    change(&mut window);
    close(&mut window);
    assert!(asked(&window, |command| *command == ViewportCommand::CancelClose));
    window.run_steps(2);
    picture(&mut window, "ask");
    click(&mut window, "Keep editing");
    assert!(window.state().is_changed());
    close(&mut window);
    window.run_steps(2);
    window.get_by_label("Discard changes").click();
    let mut closed = false;
    for _ in 0..3 {
        window.step();
        closed |= asked(&window, |command| *command == ViewportCommand::Close);
    }
    assert!(closed);
}

/// Save in the question saves, and then does what was wanted.
#[test]
fn save_in_the_question_saves_and_goes_on() {
    let (folder, sluice) = folder();
    let pond = folder.path().join("pond.toml");
    fs::write(&pond, built_in()).unwrap();
    let mut window = window(SIZE);
    open(&mut window, &pond);
    change(&mut window);
    open(&mut window, &sluice);
    window.get_by_label("Changes are not saved");
    click(&mut window, "Save");
    window.get_by_label("Sluice drive");
    let saved = fs::read_to_string(&pond).unwrap();
    let saved = Setup::parse(&saved, "pond").unwrap();
    assert_eq!(saved.machine.connection, wyebench::setup::Connection::Delta);
}

#[test]
fn reset_goes_back_to_the_file_and_can_be_undone() {
    let mut window = window(SIZE);
    change(&mut window);
    click(&mut window, "Setup");
    click(&mut window, "Reset the bench");
    assert!(!window.state().is_changed());
    click(&mut window, "Undo");
    assert!(window.state().is_changed());
}

/// What is remembered comes back: recent setups, and a damaged memory is no harm.
#[test]
fn recent_setups_come_back_another_day() {
    let (folder, path) = folder();
    let home = folder.path().join("home");
    let mut first = window(SIZE);
    let ctx = first.ctx.clone();
    first.state_mut().remember_in(&home, &ctx);
    open(&mut first, &path);
    let mut second = window(SIZE);
    let ctx = second.ctx.clone();
    second.state_mut().remember_in(&home, &ctx);
    click(&mut second, "Setup");
    click(&mut second, "sluice.toml");
    second.get_by_label("Sluice drive");
    fs::write(home.join("window.toml"), "recent = [[").unwrap();
    let mut third = window(SIZE);
    let ctx = third.ctx.clone();
    third.state_mut().remember_in(&home, &ctx);
    click(&mut third, "Setup");
    assert_eq!(count(&third, "sluice.toml"), 0);
}

/// A dialog begins in its field, also where another was there before it.
#[test]
fn a_dialog_begins_in_its_field() {
    let mut window = window(SIZE);
    let focused = |window: &Window| {
        let role = egui::accesskit::Role::TextInput;
        window.get_by_role_and_label(role, "Path").is_focused()
    };
    press_ctrl(&mut window, Key::O);
    assert!(focused(&window));
    window.get_by_label("Cancel").focus();
    window.run_steps(2);
    press(&mut window, Key::Escape);
    window.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::S);
    window.run_steps(3);
    window.get_by_label("Save the setup as");
    assert!(focused(&window));
}

/// A file that an editor has changed meanwhile is not replaced without a question.
#[test]
fn what_another_program_wrote_is_not_replaced_unasked() {
    let (_folder, path) = folder();
    let mut window = window(SIZE);
    open(&mut window, &path);
    change(&mut window);
    let theirs = format!("# written by an editor\n{}", built_in());
    fs::write(&path, &theirs).unwrap();
    press_ctrl(&mut window, Key::S);
    window.get_by_label("Another program has written sluice.toml since. Save replaces that.");
    assert_eq!(fs::read_to_string(&path).unwrap(), theirs);
    click(&mut window, "Save");
    assert_ne!(fs::read_to_string(&path).unwrap(), theirs);
    assert!(!window.state().is_changed());
    change_back(&mut window);
    press_ctrl(&mut window, Key::S);
    assert!(!window.state().is_changed(), "now it is ours: no question");
}

fn change_back(window: &mut Window) {
    press_ctrl(window, Key::Z);
    assert!(window.state().is_changed());
}
