//! Draws a task on the bench: the keys that may be set, and how the running motor stands to it.

use egui::{Align, Layout, RichText, Ui};

use super::reading::Reading;
use super::task_view::{Asked, Seen, mark_ui};
use super::words::Setting;
use crate::app::style;
use crate::lesson::{Answer, Setting as Key, Standing, TaskKind, state};
use crate::setup::{Kind, key_spec};

pub(super) fn bench_ui(
    ui: &mut Ui,
    reading: &mut Reading,
    idx: usize,
    seen: &Seen<'_>,
    setting: &Setting<'_>,
) -> Option<Asked> {
    let mut asked = None;
    let theme = setting.theme;
    let lesson = std::rc::Rc::clone(&reading.lesson);
    let TaskKind::Bench { run, may_set, .. } = &lesson.tasks[idx].kind else {
        return None;
    };
    let here = if seen.of_lesson {
        reading.of_bench(idx, &seen.facts.setup)
    } else {
        Err(String::new())
    };
    let editing = ui
        .memory(|memory| memory.focused())
        .is_some_and(|focused| (0..may_set.len()).any(|k| focused == field_id(idx, k)));
    if !editing {
        reading.take_fields(idx, here.is_ok().then_some(seen.facts));
    }
    for (k, key) in may_set.iter().enumerate() {
        if let Some(text) = field_ui(ui, reading, idx, k, key, setting) {
            let mut keys = here.clone().unwrap_or_default();
            keys.retain(|(other, _)| other != key);
            if let Ok(Answer::Set(set)) =
                Answer::parse(&lesson.tasks[idx], &[&format!("{key}={text}")])
            {
                keys.extend(set);
            }
            asked = Some(Asked::Set(run.clone(), keys));
        }
    }
    ui.add_space(style::gap(0.5));
    let soft = style::colour(theme.ink_soft);
    let small = (setting.size * 0.92).max(11.0);
    ui.horizontal_wrapped(|ui| {
        if here.is_err() {
            let put = ui.button("Put it on the bench");
            if put.on_hover_text("The setup of this task, from rest; what stands there now can be had back with Undo").clicked() {
                asked = Some(Asked::Load(run.clone()));
            }
            return;
        }
        if ui.button("From rest").on_hover_text("Start the run anew with these values").clicked() {
            asked = Some(Asked::FromRest);
        }
        let check = ui.button("Check the bench");
        if check.on_hover_text("Run it from rest over the lesson's whole time, and say what comes of it").clicked()
            && let Ok(keys) = &here
        {
            reading.answer(idx, &Answer::Set(keys.clone()));
        }
    });
    match &here {
        Ok(keys) => live_ui(ui, reading, idx, keys, seen, setting),
        Err(_) => {
            let words = "Something else stands on the bench now.";
            ui.label(RichText::new(words).size(small).color(soft));
        }
    }
    asked
}

/// How the running bench stands to the task, part by part.
fn live_ui(
    ui: &mut Ui,
    reading: &mut Reading,
    idx: usize,
    keys: &[Key],
    seen: &Seen<'_>,
    setting: &Setting<'_>,
) {
    let lesson = std::rc::Rc::clone(&reading.lesson);
    let now = reading.with_runs(|runs| state(&lesson.tasks[idx], runs, seen.facts, &seen.bench));
    let theme = setting.theme;
    let (ink, soft) = (style::colour(theme.ink), style::colour(theme.ink_soft));
    let small = (setting.size * 0.92).max(11.0);
    let standing = match now {
        Ok(Some(standing)) => standing,
        Ok(None) => return,
        Err(error) => {
            reading.tasks[idx].wrong = Some(super::task::sentence(&error.complaint));
            return;
        }
    };
    ui.spacing_mut().item_spacing.y = style::gap(0.5);
    match &standing {
        Standing::Waiting => {
            let words = "Not yet: the figures come with the first turn of the run.";
            ui.label(RichText::new(words).size(small).color(soft));
        }
        Standing::Known(clauses) => {
            let head = if standing.is_met() {
                "At this moment: met"
            } else {
                "At this moment: not yet"
            };
            ui.label(RichText::new(head).size(small).color(ink));
            for clause in clauses {
                ui.horizontal_top(|ui| {
                    mark_ui(ui, clause.holds, setting);
                    let found: Vec<String> = clause
                        .found
                        .iter()
                        .map(|(name, value)| format!("{name} is {value}"))
                        .collect();
                    let found = if found.is_empty() {
                        String::new()
                    } else {
                        format!("{}; ", found.join(", "))
                    };
                    let words = format!("{found}wanted: {}", clause.wanted);
                    let words = RichText::new(words).size(small).color(soft);
                    ui.add(egui::Label::new(words).wrap());
                });
            }
        }
    }
    // what the reader set and is met while it is watched is judged once, without being asked; what
    // held for a moment only is passed over
    if standing.is_met()
        && !keys.is_empty()
        && !reading.tasks[idx].met
        && !reading.tasks[idx].judged_live
    {
        reading.tasks[idx].judged_live = true;
        reading.answer_if_right(idx, &Answer::Set(keys.to_vec()));
    } else if !standing.is_met() {
        reading.tasks[idx].judged_live = false;
    }
}

fn field_id(idx: usize, k: usize) -> egui::Id {
    egui::Id::unique(("lesson field", idx, k))
}

/// One key that the reader may set. What was written, where that is another value.
fn field_ui(
    ui: &mut Ui,
    reading: &mut Reading,
    idx: usize,
    k: usize,
    key: &str,
    setting: &Setting<'_>,
) -> Option<String> {
    let spec = key_spec(key);
    let about = spec.map_or_else(String::new, |spec| {
        format!("{}: {}", spec.about, spec.kind.allowed())
    });
    let (_, text) = reading.tasks[idx].fields.get_mut(k)?;
    let mut wanted = None;
    ui.horizontal(|ui| {
        let name = RichText::new(key).font(egui::FontId::monospace((setting.size - 1.0).max(11.0)));
        let label = ui.label(name.color(style::colour(setting.theme.ink)));
        let label = label.on_hover_text(&about);
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            if let Some(Kind::Word { words, .. }) = spec.map(|spec| spec.kind) {
                let list = egui::ComboBox::from_id_salt(("word", idx, k))
                    .selected_text(text.clone())
                    .width(style::gap(30.0));
                let list = list.show_ui(ui, |ui| {
                    for word in words {
                        if ui.selectable_label(text == word, *word).clicked() {
                            wanted = Some((*word).to_owned());
                            ui.close();
                        }
                    }
                });
                list.response.labelled_by(label.id);
                return;
            }
            let before = text.clone();
            let field = egui::TextEdit::singleline(text)
                .id(field_id(idx, k))
                .hint_text(spec.map_or("", |spec| spec.example).trim_matches('"'))
                .desired_width(style::gap(30.0));
            let field = ui.add(field).labelled_by(label.id).on_hover_text(&about);
            if field.gained_focus() {
                ui.data_mut(|data| data.insert_temp(field_id(idx, k), before));
            } else if field.lost_focus() {
                let from: Option<String> = ui.data(|data| data.get_temp(field_id(idx, k)));
                let given_up = ui.input(|input| input.key_pressed(egui::Key::Escape));
                if !given_up && from.as_ref() != Some(text) {
                    wanted = Some(text.trim().to_owned());
                }
            }
        });
    });
    wanted.filter(|text| !text.is_empty())
}
