//! What the page round the window is told: which control has the keyboard and what it says, for
//! those who hear the page instead of seeing it; and what is shown, for those who look at the page
//! from outside, a test say. Nothing of it is read back.
//!
//! A desktop's window system hears of both by itself.

use egui::Context;
use egui::output::OutputEvent;
use serde_json::json;

use super::App;
use crate::app::outside;

/// Least time between two tellings, in s.
const EVERY_S: f64 = 0.2;

/// Most characters of a sheet.
const MOST_CHARS: usize = 2_000;

/// What was told last.
#[derive(Debug, Default)]
pub(super) struct Told {
    spoken: String,
    shown: String,
    at_s: f64,
}

impl App {
    /// Tells the page, where there is one.
    pub(super) fn tell_page(&mut self, ctx: &Context) {
        if outside::FILES {
            return;
        }
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
            outside::speak(&words);
            self.told.spoken = words;
        }
        let time_s = ctx.input(|input| input.time);
        if time_s - self.told.at_s < EVERY_S && !self.told.shown.is_empty() {
            return;
        }
        self.told.at_s = time_s;
        let shown = self.shown_words(ctx);
        if shown != self.told.shown {
            outside::tell("shown", &shown);
            self.told.shown = shown;
        }
    }

    /// What is shown, as JSON.
    fn shown_words(&self, ctx: &Context) -> String {
        let frame = self.frame();
        let reading = self.course.reading.as_ref();
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
            "page": self.page.is_some(),
            "sheets": sheets,
            "size": [ctx.content_rect().width(), ctx.content_rect().height()],
            "figures": figures,
        })
        .to_string()
    }
}
