//! The page's address: what it asks for comes on the bench, and it follows what stands there, so
//! that a link to the page is a link to the setup. A window on a desktop has none.

use egui::Context;

use super::App;
use super::papers::Intent;
use crate::app::address::Address;
use crate::app::outside;
use crate::app::shelf::{Refusal, in_lines};
use crate::lesson::course;
use crate::setup::{LinkError, Setup, built_in, from_link, to_link};

/// How long a setup stands unchanged before the address says it, in s: a value that is dragged
/// goes through many.
const CALM_S: f64 = 0.4;

/// What the address said last, and what it is to say.
#[derive(Debug, Default)]
pub(super) struct Linked {
    /// What stood there when it was looked at last.
    seen: Option<String>,
    /// What was shown then.
    shown: Option<Shown>,
    /// Since when, in s of the window, that has been otherwise than the address says.
    since_s: Option<f64>,
}

/// What an address tells of the window.
#[derive(Clone, Debug, PartialEq)]
struct Shown {
    own: Setup,
    lesson: Option<String>,
    step: Option<usize>,
}

impl App {
    /// Opens what stands after the `#` of a page's address: a setup, a lesson, a task of it. What
    /// is wrong with it is said, and what stood there stays.
    pub fn open_address(&mut self, fragment: &str, ctx: &Context) {
        self.open_parts(&Address::parse(fragment), ctx);
    }

    /// Hears an address that was changed by hand: at the beginning of a frame.
    pub(super) fn hear_address(&mut self, ctx: &Context) {
        let Some(now) = outside::address() else {
            return;
        };
        if self.linked.seen.as_ref() != Some(&now) {
            self.linked.seen = Some(now.clone());
            self.open_address(&now, ctx);
            self.linked.shown = Some(self.to_tell());
            self.linked.since_s = None;
        }
    }

    /// Lets the address follow what is shown: at the end of a frame, since no other may come.
    pub(super) fn lead_address(&mut self, ctx: &Context) {
        if self.linked.seen.is_none() {
            return;
        }
        let time_s = ctx.input(|input| input.time);
        let shown = self.to_tell();
        if self.linked.shown.as_ref() != Some(&shown) {
            self.linked.shown = Some(shown);
            self.linked.since_s = Some(time_s);
            ctx.request_repaint_after(std::time::Duration::from_secs_f64(CALM_S * 1.1));
        } else if self.linked.since_s.is_some_and(|s| time_s - s >= CALM_S) {
            self.linked.since_s = None;
            // a setup too long for a link is in none
            let fragment = self.fragment(&shown).unwrap_or_default();
            outside::set_address(&fragment);
            self.linked.seen = outside::address();
        }
    }

    /// The address of the page with what is shown. `None` on a desktop.
    ///
    /// # Errors
    /// The setup is too long for one.
    pub(super) fn link(&self) -> Result<Option<String>, LinkError> {
        Ok(outside::link(&self.fragment(&self.to_tell())?))
    }

    fn to_tell(&self) -> Shown {
        let own = self
            .aside
            .as_ref()
            .map_or(&self.bench, |aside| &aside.bench);
        let reading = self.course.reading.as_ref();
        let reading = reading.filter(|_| self.course.open);
        Shown {
            own: own.setup().clone(),
            lesson: reading.map(|reading| reading.lesson.files.folder.clone()),
            step: reading.map(|reading| reading.place()).filter(|at| *at > 0),
        }
    }

    fn fragment(&self, shown: &Shown) -> Result<String, LinkError> {
        let text = shown.own.to_toml();
        let usual = Setup::parse(built_in(), "the built-in setup").is_ok_and(|s| s == shown.own);
        let setup = if usual { None } else { Some(to_link(&text)?) };
        let address = Address {
            setup,
            lesson: shown.lesson.clone(),
            step: shown.step,
        };
        Ok(address.to_fragment())
    }

    fn open_parts(&mut self, address: &Address, ctx: &Context) {
        if let Some(word) = &address.setup {
            match from_link(word) {
                Ok(text) => {
                    let running = self.time.running;
                    self.want(Intent::Take("The link".to_owned(), text.into_bytes()), ctx);
                    self.time.running = running;
                }
                Err(error) => self.refuse(Refusal {
                    title: "The link was not opened".to_owned(),
                    words: in_lines(&error.to_string()),
                }),
            }
        }
        if let Some(name) = &address.lesson {
            self.go_to_lesson(name, address.step);
        }
    }

    fn go_to_lesson(&mut self, name: &str, step: Option<usize>) {
        let Some(folder) = course::folder_named(name) else {
            let known: Vec<&str> = course::folders().collect();
            return self.refuse(Refusal {
                title: "The lesson of the link was not found".to_owned(),
                words: format!("The lessons here are:\n  {}", known.join("\n  ")),
            });
        };
        let open = self.course.reading.as_ref();
        if open.is_none_or(|reading| reading.lesson.files.folder != folder) {
            self.open_folder(folder);
        }
        self.course.open = true;
        self.course.list = false;
        if let Some(reading) = &mut self.course.reading {
            reading.go_to_task(step.unwrap_or(0));
        }
    }
}
