//! The course in the window: a lesson from its list to its end, free play and back, a talk.

use egui::Key;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use wyebench::lesson::{LessonFiles, course};

use super::{Window, click, count, picture, press, window};

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
    for _ in 0..40 {
        window.run_steps(1);
        if count(window, "are being made") == 0 {
            break;
        }
    }
    window.run_steps(2);
    assert_eq!(count(window, "are being made"), 0);
}

#[test]
fn pictures_of_the_course() {
    let mut list = window(SIZE);
    press(&mut list, Key::C);
    picture(&mut list, "course_list");
    let mut lesson = opened(SIZE, "01-why-a-magnet-turns");
    picture(&mut lesson, "lesson_gate");
    click(&mut lesson, "b) It turns part of a turn and stops.");
    lesson.run_steps(120);
    picture(&mut lesson, "lesson_guessed");
}
