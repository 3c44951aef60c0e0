//! Reading the tasks of a lesson's front matter.

use serde::Deserialize;
use toml::Spanned;

use super::condition::parse_tolerance;
use super::front::{Reader, is_order};
use super::model::{Answer, Choice, Reply, Right, RunSpec, Task, TaskKind, When};
use super::problem::Complaint;
use super::{MOST_ITEMS, MOST_TRIALS, Value, text};
use crate::setup::Place;

#[derive(Clone, Copy, Deserialize, PartialEq)]
#[serde(rename_all = "kebab-case")]
pub(super) enum KindText {
    Choice,
    Number,
    Bench,
    Order,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct TaskText {
    name: Spanned<String>,
    kind: KindText,
    ask: String,
    hints: Vec<String>,
    worked: String,
    #[serde(default)]
    option: Vec<OptionText>,
    run: Option<Spanned<String>>,
    figure: Option<Spanned<String>>,
    within: Option<Spanned<String>>,
    answer: Option<Spanned<toml::Value>>,
    #[serde(default)]
    may_set: Vec<Spanned<String>>,
    check: Option<Spanned<String>>,
    trials: Option<u32>,
    #[serde(default)]
    vary: toml::Table,
    #[serde(default)]
    items: Vec<String>,
    legs: Option<LegsText>,
    #[serde(default)]
    reply: Vec<Spanned<ReplyText>>,
    #[serde(default)]
    otherwise: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct OptionText {
    text: String,
    holds: Option<Spanned<String>>,
    right: Option<bool>,
    reply: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct LegsText {
    run: Spanned<String>,
    states: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ReplyText {
    when: Option<Spanned<String>>,
    before: Option<[usize; 2]>,
    #[serde(rename = "try")]
    example: Spanned<toml::Value>,
    say: String,
}

impl Reader<'_> {
    pub(super) fn task(&mut self, task: &Spanned<TaskText>, runs: &[RunSpec]) -> Option<Task> {
        let place = self.place(task.span());
        let task = task.get_ref();
        let name = self.name(&task.name, "the name of a task");
        let wrong = |reason, remedy| Complaint::Task {
            task: text::harmless(task.name.get_ref()),
            reason,
            remedy,
        };
        let hints: Option<[String; 2]> = task.hints.clone().try_into().ok();
        if hints.is_none() {
            self.say(
                wrong(
                    "it does not have two hints",
                    "give `hints` a nudge and a way: hints = [\"…\", \"…\"]",
                ),
                place,
            );
        }
        for (what, n) in [
            ("answers of a choice", task.option.len()),
            ("items", task.items.len()),
            ("replies", task.reply.len()),
        ] {
            if n > MOST_ITEMS {
                let allowed = MOST_ITEMS;
                self.say(Complaint::TooMany { what, n, allowed }, place);
                return None;
            }
        }
        let kind = self.kind(task, runs, place)?;
        if task.otherwise.is_empty() && task.kind != KindText::Choice {
            self.say(
                wrong(
                    "a wrong answer may get no reply",
                    "give `otherwise` what to say where no reply fits",
                ),
                place,
            );
        }
        if task.kind == KindText::Choice && !(task.reply.is_empty() && task.otherwise.is_empty()) {
            self.say(
                wrong(
                    "the answers of a choice have their own replies",
                    "put the words into the `reply` of the [[task.option]]",
                ),
                place,
            );
        }
        let replies = task
            .reply
            .iter()
            .filter_map(|reply| self.reply(reply, &kind, &wrong))
            .collect();
        Some(Task {
            name,
            ask: task.ask.clone(),
            hints: hints?,
            worked: task.worked.clone(),
            kind,
            replies,
            otherwise: task.otherwise.clone(),
            place,
        })
    }

    fn kind(&mut self, task: &TaskText, runs: &[RunSpec], place: Place) -> Option<TaskKind> {
        let wrong = |reason, remedy| Complaint::Task {
            task: text::harmless(task.name.get_ref()),
            reason,
            remedy,
        };
        match task.kind {
            KindText::Choice => {
                if task.option.len() < 2 {
                    let complaint = wrong(
                        "a choice has at least two answers",
                        "give each one [[task.option]] with text, holds or right, and reply",
                    );
                    self.say(complaint, place);
                    return None;
                }
                let mut options = Vec::new();
                for option in &task.option {
                    let right = match (&option.holds, option.right) {
                        (Some(holds), None) => Right::Holds(self.condition(holds)?),
                        (None, right) => Right::Said(right.unwrap_or(false)),
                        (Some(_), Some(_)) => {
                            let complaint = wrong(
                                "an answer has both `holds` and `right`",
                                "keep one: `holds` lets the runs decide",
                            );
                            self.say(complaint, place);
                            return None;
                        }
                    };
                    options.push(Choice {
                        text: option.text.clone(),
                        right,
                        reply: option.reply.clone(),
                    });
                }
                Some(TaskKind::Choice(options))
            }
            KindText::Number => {
                let run = task.run.as_ref().map(|run| self.known_run(run, runs));
                let (Some(figure), Some(within), Some(answer)) =
                    (&task.figure, &task.within, &task.answer)
                else {
                    let complaint = wrong(
                        "a number needs figure, within and answer",
                        "as in figure = \"slow.mean_speed_rpm\", within = \"2 %\", answer = \"1500 rpm\"",
                    );
                    self.say(complaint, place);
                    return None;
                };
                let figure = self.condition(figure)?;
                let within = match parse_tolerance(within.get_ref()) {
                    Ok(within) => within,
                    Err(error) => {
                        let place = self.place(within.span());
                        self.say(error.complaint, place);
                        return None;
                    }
                };
                let answer = value_text(answer.get_ref());
                let vary = self.vary(&task.vary, place);
                if !vary.is_empty() && run.is_none() {
                    let complaint = wrong(
                        "it varies keys of no run",
                        "name the run whose keys vary: run = \"…\"",
                    );
                    self.say(complaint, place);
                }
                Some(TaskKind::Number {
                    run,
                    figure,
                    within,
                    answer,
                    vary,
                })
            }
            KindText::Bench => {
                let (Some(run), Some(check), Some(answer)) = (&task.run, &task.check, &task.answer)
                else {
                    let complaint = wrong(
                        "a task on the bench needs run, may_set, check and answer",
                        "as in run = \"start\", may_set = [\"drive.pwm.duty\"], check = \"mean_speed_rpm > 3000 rpm\", \
                         answer = { \"drive.pwm.duty\" = 0.5 }",
                    );
                    self.say(complaint, place);
                    return None;
                };
                let run = self.known_run(run, runs);
                let check = self.condition(check)?;
                for key in &task.may_set {
                    let place = self.place(key.span());
                    self.key(key.get_ref(), place);
                }
                let Some(answer) = answer.get_ref().as_table() else {
                    let complaint = wrong(
                        "its answer sets no keys",
                        "write answer = { \"drive.pwm.duty\" = 0.5 }",
                    );
                    self.say(complaint, place);
                    return None;
                };
                let may_set: Vec<String> = task
                    .may_set
                    .iter()
                    .map(|key| key.get_ref().clone())
                    .collect();
                let answer = self.keys(answer, place);
                if !answer.iter().all(|(key, _)| may_set.contains(key)) {
                    let complaint = wrong(
                        "its answer sets a key that the reader may not",
                        "add the key to `may_set`",
                    );
                    self.say(complaint, place);
                }
                let trials = task.trials.unwrap_or(1);
                if !(1..=MOST_TRIALS).contains(&trials) {
                    let complaint = wrong("so many trials cannot be", "1 to 20 trials");
                    self.say(complaint, place);
                    return None;
                }
                let vary = self.vary(&task.vary, place);
                Some(TaskKind::Bench {
                    run,
                    may_set,
                    check,
                    answer,
                    trials,
                    vary,
                })
            }
            KindText::Order => {
                if task.items.len() < 3 {
                    let complaint = wrong(
                        "an order needs at least three items",
                        "list them in the right order: items = [\"…\", \"…\", \"…\"]",
                    );
                    self.say(complaint, place);
                    return None;
                }
                let legs = match &task.legs {
                    None => None,
                    Some(legs) => {
                        let run = self.known_run(&legs.run, runs);
                        let is_state = |state: &String| {
                            state.len() == 3 && state.bytes().all(|c| b"10z".contains(&c))
                        };
                        if legs.states.len() != task.items.len()
                            || !legs.states.iter().all(is_state)
                        {
                            let complaint = wrong(
                                "its legs do not fit its items",
                                "one state of U, V, W to each item, as in states = [\"10z\", \"1z0\", …]",
                            );
                            self.say(complaint, place);
                            return None;
                        }
                        Some((run, legs.states.clone()))
                    }
                };
                Some(TaskKind::Order {
                    items: task.items.clone(),
                    legs,
                })
            }
        }
    }

    fn vary(&mut self, table: &toml::Table, place: Place) -> Vec<(String, Vec<toml::Value>)> {
        let mut found = Vec::new();
        for (key, values) in table {
            self.key(key, place);
            match values.as_array() {
                Some(values) if (2..=MOST_ITEMS * 2).contains(&values.len()) => {
                    found.push((key.clone(), values.clone()));
                }
                _ => self.say(
                    Complaint::Arguments {
                        wanted: "2 to 32 values to pick from, as in \"supply.voltage\" = [\"10 V\", \"11 V\"]",
                    },
                    place,
                ),
            }
        }
        found
    }

    fn reply(
        &mut self,
        reply: &Spanned<ReplyText>,
        kind: &TaskKind,
        wrong: &dyn Fn(&'static str, &'static str) -> Complaint,
    ) -> Option<Reply> {
        let place = self.place(reply.span());
        let reply = reply.get_ref();
        let when = match (&reply.when, reply.before, kind) {
            (Some(when), None, TaskKind::Number { .. } | TaskKind::Bench { .. }) => {
                When::Holds(self.condition(when)?)
            }
            (None, Some([first, second]), TaskKind::Order { items, .. })
                if (1..=items.len()).contains(&first) && (1..=items.len()).contains(&second) =>
            {
                When::Before(first - 1, second - 1)
            }
            _ => {
                let complaint = wrong(
                    "a reply does not say when it fits",
                    "when = \"condition\" for a number or a bench, before = [2, 1] for an order",
                );
                self.say(complaint, place);
                return None;
            }
        };
        let example = reply.example.get_ref();
        let example = match kind {
            TaskKind::Choice(_) => None,
            TaskKind::Number { .. } => Value::answer(&value_text(example)).ok().map(Answer::Number),
            TaskKind::Bench { .. } => example
                .as_table()
                .map(|table| Answer::Set(self.keys(table, place))),
            TaskKind::Order { items, .. } => order_of(example, items.len()).map(Answer::Order),
        };
        let Some(example) = example else {
            let complaint = wrong(
                "the wrong answer to `try` does not fit the task",
                "a number with its unit, a table of keys, or a list of item numbers",
            );
            self.say(complaint, place);
            return None;
        };
        Some(Reply {
            when,
            example,
            say: reply.say.clone(),
        })
    }
}

/// A value as a reader would type it.
fn value_text(value: &toml::Value) -> String {
    match value {
        toml::Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

/// Item numbers from 1 as places from 0; `None` where they are no order of `n` items.
fn order_of(value: &toml::Value, n: usize) -> Option<Vec<usize>> {
    let order: Vec<usize> = value
        .as_array()?
        .iter()
        .map(|item| usize::try_from(item.as_integer()?).ok()?.checked_sub(1))
        .collect::<Option<_>>()?;
    is_order(&order, n).then_some(order)
}
