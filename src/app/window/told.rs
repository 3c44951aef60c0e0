//! What somebody outside the window is told: which control has the keyboard and what it says, for
//! those who hear a page instead of seeing it; and what is shown, for those who look at it from
//! outside, a test say. Nothing of it is read back.
//!
//! A desktop's window system hears of both by itself.

use std::time::Duration;

use egui::Context;
use egui::output::OutputEvent;
use serde_json::json;

use super::App;

/// Least time between two tellings, in s.
const EVERY_S: f64 = 0.2;

/// Most characters of a sheet.
const MOST_CHARS: usize = 2_000;

/// What is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Telling<'a> {
    /// The control that has the keyboard, and what it says: to be read out.
    Spoken(&'a str),
    /// What is shown, as JSON.
    Shown(&'a str),
}

type Listener = Box<dyn FnMut(Telling<'_>)>;

/// Who is told, and what was told last.
#[derive(Default)]
pub(super) struct Told {
    listener: Option<Listener>,
    spoken: String,
    shown: String,
    at_s: f64,
}

impl std::fmt::Debug for Told {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Told")
            .field("shown", &self.shown)
            .finish_non_exhaustive()
    }
}

impl App {
    /// Tells somebody from now on what is shown and which control has the keyboard.
    pub fn tell_to(&mut self, listener: impl FnMut(Telling<'_>) + 'static) {
        self.told.listener = Some(Box::new(listener));
    }

    /// Tells it, where somebody listens: at the end of a frame.
    pub(super) fn tell_outside(&mut self, ctx: &Context) {
        let Some(mut listener) = self.told.listener.take() else {
            return;
        };
        let heard = ctx.output(|output| {
            let of_control = |event: &OutputEvent| match event {
                OutputEvent::FocusGained(info)
                | OutputEvent::ValueChanged(info)
                | OutputEvent::Clicked(info) => Some(info.description()),
                _ => None,
            };
            output.events.iter().rev().find_map(of_control)
        });
        if let Some(words) = heard.filter(|words| *words != self.told.spoken) {
            listener(Telling::Spoken(&words));
            self.told.spoken = words;
        }
        let shown = self.shown_words(ctx);
        if shown != self.told.shown {
            let time_s = ctx.input(|input| input.time);
            let wait_s = self.told.at_s + EVERY_S - time_s;
            if wait_s > 0.0 && !self.told.shown.is_empty() {
                // this may be the last frame for long, and it is to be told as well
                ctx.request_repaint_after(Duration::from_secs_f64(wait_s));
            } else {
                listener(Telling::Shown(&shown));
                self.told.shown = shown;
                self.told.at_s = time_s;
            }
        }
        self.told.listener = Some(listener);
    }

    /// What is shown, as JSON.
    fn shown_words(&self, ctx: &Context) -> String {
        let frame = self.frame();
        let reading = self.course.reading.as_ref();
        let page = self.page_now();
        let sheets: Vec<String> = self
            .sheets
            .iter()
            .map(|sheet| format!("{sheet:?}").chars().take(MOST_CHARS).collect())
            .collect();
        let met = reading.map(|r| r.tasks.iter().filter(|task| task.met).count());
        let figures: serde_json::Map<String, serde_json::Value> = self
            .figures
            .iter()
            .filter_map(|figure| Some((figure.key.to_owned(), json!(figure.number()?))))
            .collect();
        json!({
            "title": self.setup_name(),
            "changed": self.is_changed(),
            "running": self.time.running,
            "pace": self.time.pace(),
            "time_s": self.time.cursor_s,
            "theta_mech_rad": frame.as_ref().map(|frame| frame.now.theta_mech_rad),
            "speed_rad_s": frame.as_ref().map(|frame| frame.now.speed_rad_s),
            "dark": self.theme.dark,
            "course": self.course.open,
            "lesson": reading.map(|r| r.lesson.files.folder.clone()),
            "lesson_ready": reading.map(|r| r.texts.is_some()),
            "at_task": reading.map(|r| r.at_task),
            "tasks_met": met,
            "page": page.map(|(name, _)| name),
            "page_busy": page.map(|(_, busy)| busy),
            "sheets": sheets,
            "size": [ctx.content_rect().width(), ctx.content_rect().height()],
            "figures": figures,
        })
        .to_string()
    }
}
