//! The window in a browser: the shell round [`App`].

use std::path::Path;

use wasm_bindgen::{JsCast as _, JsValue};
use web_sys::HtmlCanvasElement;

use super::{App, Shown, Telling, outside};
use crate::lesson::tally;
use crate::setup::{Setup, built_in};

/// Where the window keeps what it remembers, among the names of the browser's storage.
const MEMORY: &str = "memory";

/// Draws the window into the page, with what its address asks for on the bench, and returns. What
/// becomes of it stands in the attribute `data-state` of the canvas: `open`, or `failed` with the
/// reason in `data-reason`.
///
/// The address `#figures` asks for something else: every run of the course is made, and its
/// figures and its time in ms stand in `data-figures` and `data-times` of the canvas.
pub fn start() {
    wasm_bindgen_futures::spawn_local(async {
        if outside::address().as_deref() == Some("figures") {
            return tell_figures();
        }
        match open().await {
            Ok(()) => outside::tell("state", "open"),
            Err(reason) => {
                let words = reason.as_string().unwrap_or_else(|| format!("{reason:?}"));
                outside::tell("reason", &words);
                outside::tell("state", "failed");
            }
        }
    });
}

async fn open() -> Result<(), JsValue> {
    let canvas = web_sys::window()
        .and_then(|window| window.document())
        .and_then(|document| document.get_element_by_id(outside::CANVAS))
        .ok_or("the page has no place for the bench")?;
    let canvas: HtmlCanvasElement = canvas.dyn_into()?;
    let setup = Setup::parse(built_in(), "the built-in setup").map_err(words)?;
    let shown = Shown::new(&setup).map_err(words)?;
    let creator: eframe::AppCreator<'static> = Box::new(|creation| {
        let mut app = App::new(creation, shown, setup);
        app.remember_in(Path::new(MEMORY), &creation.egui_ctx);
        outside::hear_address(&creation.egui_ctx);
        app.tell_to(|telling| match telling {
            Telling::Spoken(words) => outside::speak(words),
            Telling::Shown(words) => outside::tell("shown", words),
        });
        app.run();
        Ok(Box::new(app))
    });
    let runner = eframe::WebRunner::new();
    runner
        .start(canvas, eframe::WebOptions::default(), creator)
        .await
}

fn tell_figures() {
    let (mut lines, mut times) = (Vec::new(), Vec::new());
    for name in tally::names() {
        let before_s = outside::clock_s();
        match tally::lines(&name) {
            Ok(of_run) => lines.extend(of_run),
            Err(error) => lines.push(format!("{} {error}", name.join("/"))),
        }
        let ms = (outside::clock_s() - before_s) * 1e3;
        times.push(format!("{} {ms:.2}", name.join("/")));
    }
    outside::tell("figures", &lines.join("\n"));
    outside::tell("times", &times.join("\n"));
    outside::tell("state", "counted");
}

fn words(error: impl std::fmt::Display) -> JsValue {
    JsValue::from_str(&error.to_string())
}
