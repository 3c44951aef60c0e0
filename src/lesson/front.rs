//! Reading a lesson: sizes first, then the front matter, then the text.

use serde::Deserialize;
use toml::Spanned;

use super::condition::{Condition, ConditionError, parse_tolerance};
use super::model::{
    Answer, Choice, Claim, Lesson, LessonFiles, Part, Reply, Right, RunSpec, Task, TaskKind, When,
};
use super::problem::{Complaint, LessonErrors, LessonProblem};
use super::{
    MOST_FILES, MOST_ITEMS, MOST_RUNS, MOST_SETUP_BYTES, MOST_TASKS, MOST_TEXT_BYTES, MOST_TRIALS,
    Value, text,
};
use crate::setup::{CHANGE_KEYS, KEYS, Place};

/// The file that every lesson has.
pub const TEXT_FILE: &str = "lesson.md";
/// The line before and after the front matter.
const FENCE: &str = "+++";
/// Names that stand for something else in a condition.
const TAKEN: [&str; 8] = [
    "machine", "drive", "supply", "load", "run", "change", "answer", "task",
];

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FrontText {
    format: Spanned<i64>,
    title: String,
    idea: String,
    #[serde(default)]
    terms: Vec<String>,
    #[serde(default)]
    claims: Vec<Spanned<String>>,
    #[serde(default)]
    run: Vec<Spanned<RunText>>,
    #[serde(default)]
    task: Vec<Spanned<TaskText>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RunText {
    name: Spanned<String>,
    setup: Spanned<String>,
    #[serde(default)]
    with: toml::Table,
}

#[derive(Clone, Copy, Deserialize, PartialEq)]
#[serde(rename_all = "kebab-case")]
enum KindText {
    Choice,
    Number,
    Bench,
    Order,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TaskText {
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
struct OptionText {
    text: String,
    holds: Option<Spanned<String>>,
    right: Option<bool>,
    reply: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LegsText {
    run: Spanned<String>,
    states: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ReplyText {
    when: Option<Spanned<String>>,
    before: Option<[usize; 2]>,
    #[serde(rename = "try")]
    example: Spanned<toml::Value>,
    say: String,
}

/// Reads a lesson from its files.
///
/// # Errors
/// All problems that were found, in the order of the text.
pub fn parse(files: LessonFiles) -> Result<Lesson, LessonErrors> {
    let folder = files.folder.clone();
    let whole = files.texts.get(TEXT_FILE).cloned().unwrap_or_default();
    let fail = |problems| LessonErrors::new(&folder, cut(&whole), problems);
    check_files(&files).map_err(fail)?;
    let (front, front_start, body_start) = split(&whole).map_err(|problem| fail(vec![problem]))?;
    let front: FrontText = toml::from_str(front).map_err(|error| {
        let place = error.span().map(|span| Place {
            start: (front_start + span.start).min(whole.len()),
            end: (front_start + span.end).min(whole.len()),
        });
        let complaint = Complaint::FrontMatter {
            message: error.message().to_owned(),
        };
        fail(vec![LessonProblem { complaint, place }])
    })?;
    let mut reader = Reader {
        text: &whole,
        offset: front_start,
        problems: Vec::new(),
    };
    let lesson = reader.lesson(front, files, body_start);
    if reader.problems.is_empty() {
        Ok(lesson)
    } else {
        Err(fail(reader.problems))
    }
}

/// What of a text an error shows; a huge one is not carried around.
fn cut(text: &str) -> &str {
    let end = (0..=text.len().min(MOST_TEXT_BYTES))
        .rev()
        .find(|&at| text.is_char_boundary(at))
        .unwrap_or(0);
    &text[..end]
}

fn check_files(files: &LessonFiles) -> Result<(), Vec<LessonProblem>> {
    let mut problems: Vec<LessonProblem> = Vec::new();
    if !files.texts.contains_key(TEXT_FILE) {
        problems.push(Complaint::NoText.into());
    }
    if files.texts.len() > MOST_FILES {
        problems.push(
            Complaint::TooMany {
                what: "files",
                n: files.texts.len(),
                allowed: MOST_FILES,
            }
            .into(),
        );
    }
    for (name, text) in &files.texts {
        let (what, allowed) = if name == TEXT_FILE {
            ("a text", MOST_TEXT_BYTES)
        } else {
            ("a setup", MOST_SETUP_BYTES)
        };
        if name != TEXT_FILE && !is_setup_name(name) {
            let name = text::harmless(name);
            problems.push(
                Complaint::Name {
                    what: "a setup of a lesson",
                    name,
                }
                .into(),
            );
        }
        if text.len() > allowed {
            problems.push(
                Complaint::TooLong {
                    what,
                    n_bytes: text.len(),
                    allowed,
                }
                .into(),
            );
        } else if let Some((at, character)) = text::first_hidden(text) {
            let complaint = Complaint::Control {
                code: u32::from(character),
            };
            problems.push(if name == TEXT_FILE {
                let end = at + character.len_utf8();
                LessonProblem::at(complaint, Place { start: at, end })
            } else {
                complaint.into()
            });
        }
    }
    if problems.is_empty() {
        Ok(())
    } else {
        Err(problems)
    }
}

/// Small letters, digits and dashes.
pub(super) fn is_plain_name(name: &str) -> bool {
    !name.is_empty()
        && name.len() <= 60
        && !name.starts_with('-')
        && name
            .chars()
            .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-')
}

fn is_setup_name(name: &str) -> bool {
    name.strip_suffix(".toml").is_some_and(is_plain_name)
}

/// Front matter, where it starts, where the body starts.
fn split(whole: &str) -> Result<(&str, usize, usize), LessonProblem> {
    let first = whole.find('\n').map_or(whole.len(), |end| end + 1);
    if whole[..first].trim_end() != FENCE {
        let place = Place {
            start: 0,
            end: first.min(whole.len()),
        };
        return Err(LessonProblem::at(
            Complaint::NoFrontMatter { opened: false },
            place,
        ));
    }
    let mut at = first;
    for line in whole[first..].split_inclusive('\n') {
        if line.trim_end() == FENCE {
            return Ok((&whole[first..at], first, at + line.len()));
        }
        at += line.len();
    }
    let place = Place { start: 0, end: 3 };
    Err(LessonProblem::at(
        Complaint::NoFrontMatter { opened: true },
        place,
    ))
}

struct Reader<'a> {
    text: &'a str,
    /// Where the front matter begins.
    offset: usize,
    problems: Vec<LessonProblem>,
}

impl Reader<'_> {
    fn place(&self, span: std::ops::Range<usize>) -> Place {
        Place {
            start: self.offset + span.start,
            end: self.offset + span.end,
        }
    }

    fn say(&mut self, complaint: Complaint, place: Place) {
        self.problems.push(LessonProblem::at(complaint, place));
    }

    fn lesson(&mut self, front: FrontText, files: LessonFiles, body_start: usize) -> Lesson {
        let top = Place {
            start: 0,
            end: FENCE.len(),
        };
        if *front.format.get_ref() != 1 {
            let found = *front.format.get_ref();
            let place = self.place(front.format.span());
            self.say(Complaint::Format { found }, place);
        }
        for (what, n, allowed) in [
            ("runs", front.run.len(), MOST_RUNS),
            ("tasks", front.task.len(), MOST_TASKS),
            ("claims", front.claims.len(), MOST_ITEMS * 2),
            ("terms", front.terms.len(), MOST_ITEMS * 2),
        ] {
            if n > allowed {
                self.say(Complaint::TooMany { what, n, allowed }, top);
            }
        }
        let runs: Vec<RunSpec> = front
            .run
            .iter()
            .take(MOST_RUNS)
            .map(|run| self.run(run, &files))
            .collect();
        self.no_twins("runs", runs.iter().map(|run| (run.name.clone(), run.place)));
        for name in files.texts.keys().filter(|name| *name != TEXT_FILE) {
            if !runs.iter().any(|run| run.file == *name) {
                self.say(Complaint::Stray { name: name.clone() }, top);
            }
        }
        let claims = front
            .claims
            .iter()
            .take(MOST_ITEMS * 2)
            .filter_map(|claim| {
                let place = self.place(claim.span());
                self.condition(claim)
                    .map(|condition| Claim { condition, place })
            })
            .collect();
        let tasks: Vec<Task> = front
            .task
            .iter()
            .take(MOST_TASKS)
            .filter_map(|task| self.task(task, &runs))
            .collect();
        self.no_twins(
            "tasks",
            tasks.iter().map(|task| (task.name.clone(), task.place)),
        );
        let parts = self.parts(body_start, &tasks);
        Lesson {
            files,
            title: front.title,
            idea: front.idea,
            terms: front.terms,
            claims,
            runs,
            tasks,
            parts,
        }
    }

    fn no_twins(&mut self, what: &'static str, names: impl Iterator<Item = (String, Place)>) {
        let mut seen = std::collections::BTreeSet::new();
        for (name, place) in names {
            if !seen.insert(name.clone()) {
                self.say(Complaint::Twice { what, name }, place);
            }
        }
    }

    fn name(&mut self, name: &Spanned<String>, what: &'static str) -> String {
        let text = name.get_ref().clone();
        if !is_plain_name(&text) || TAKEN.contains(&text.as_str()) {
            let place = self.place(name.span());
            let name = text::harmless(&text);
            self.say(Complaint::Name { what, name }, place);
        }
        text
    }

    fn run(&mut self, run: &Spanned<RunText>, files: &LessonFiles) -> RunSpec {
        let place = self.place(run.span());
        let run = run.get_ref();
        let name = self.name(&run.name, "the name of a run");
        let file = run.setup.get_ref().clone();
        let file_place = self.place(run.setup.span());
        if !is_setup_name(&file) {
            let name = text::harmless(&file);
            self.say(
                Complaint::Name {
                    what: "a setup of a lesson",
                    name,
                },
                file_place,
            );
        } else if !files.texts.contains_key(&file) {
            let nearest = nearest(&file, files.texts.keys().map(String::as_str));
            self.say(
                Complaint::NoSetup {
                    name: file.clone(),
                    nearest,
                },
                file_place,
            );
        }
        let with = self.keys(&run.with, place);
        RunSpec {
            name,
            file,
            with,
            place,
        }
    }

    /// Keys of a setup and their values.
    fn keys(&mut self, table: &toml::Table, place: Place) -> Vec<(String, toml::Value)> {
        for key in table.keys() {
            self.key(key, place);
        }
        if table.len() > MOST_ITEMS {
            let (n, allowed) = (table.len(), MOST_ITEMS);
            self.say(
                Complaint::TooMany {
                    what: "keys",
                    n,
                    allowed,
                },
                place,
            );
        }
        table
            .iter()
            .map(|(key, value)| (key.clone(), value.clone()))
            .collect()
    }

    fn key(&mut self, key: &str, place: Place) {
        let known = || KEYS.iter().map(|spec| spec.path);
        let changing = CHANGE_KEYS.iter().any(|spec| spec.path == key);
        if changing || !known().any(|path| path == key) {
            let nearest = nearest(key, known());
            let name = text::harmless(key);
            self.say(
                Complaint::Unknown {
                    what: "key of a setup",
                    name,
                    nearest,
                },
                place,
            );
        }
    }

    fn condition(&mut self, text: &Spanned<String>) -> Option<Condition> {
        match Condition::parse(text.get_ref()) {
            Ok(condition) => Some(condition),
            Err(error) => {
                let place = self.inner(text, &error);
                self.say(error.complaint, place);
                None
            }
        }
    }

    /// The place of an error inside a quoted text.
    fn inner(&self, text: &Spanned<String>, error: &ConditionError) -> Place {
        let whole = self.place(text.span());
        let raw = self.text.get(whole.start + 1..whole.end.saturating_sub(1));
        if raw == Some(text.get_ref()) {
            Place {
                start: whole.start + 1 + error.place.start,
                end: whole.start + 1 + error.place.end,
            }
        } else {
            whole
        }
    }

    fn known_run(&mut self, name: &Spanned<String>, runs: &[RunSpec]) -> String {
        let text = name.get_ref().clone();
        if !runs.iter().any(|run| run.name == text) {
            let place = self.place(name.span());
            let nearest = nearest(&text, runs.iter().map(|run| run.name.as_str()));
            let name = text::harmless(&text);
            self.say(
                Complaint::Unknown {
                    what: "run",
                    name,
                    nearest,
                },
                place,
            );
        }
        text
    }

    fn task(&mut self, task: &Spanned<TaskText>, runs: &[RunSpec]) -> Option<Task> {
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

    /// Splits the body at its tasks.
    fn parts(&mut self, body_start: usize, tasks: &[Task]) -> Vec<Part> {
        let text = self.text;
        let mut parts = Vec::new();
        let mut shown = vec![0; tasks.len()];
        let (mut at, mut begun) = (body_start, body_start);
        let piece = |from: usize, to: usize, parts: &mut Vec<Part>| {
            if !text[from..to].trim().is_empty() {
                parts.push(Part::Text {
                    markdown: text[from..to].to_owned(),
                    start: from,
                });
            }
        };
        for line in text[body_start..].split_inclusive('\n') {
            let name = line
                .trim()
                .strip_prefix("{{task ")
                .and_then(|rest| rest.strip_suffix("}}"));
            if let Some(name) = name.map(str::trim) {
                piece(begun, at, &mut parts);
                begun = at + line.len();
                match tasks.iter().position(|task| task.name == name) {
                    Some(idx) => {
                        shown[idx] += 1;
                        parts.push(Part::Task(idx));
                    }
                    None => {
                        let place = Place {
                            start: at,
                            end: at + line.trim_end().len(),
                        };
                        let nearest = nearest(name, tasks.iter().map(|task| task.name.as_str()));
                        let name = text::harmless(name);
                        self.say(
                            Complaint::Unknown {
                                what: "task",
                                name,
                                nearest,
                            },
                            place,
                        );
                    }
                }
            }
            at += line.len();
        }
        piece(begun, at, &mut parts);
        for (task, n_times) in tasks.iter().zip(shown) {
            if n_times != 1 {
                let name = task.name.clone();
                self.say(
                    Complaint::TaskShown {
                        task: name,
                        n_times,
                    },
                    task.place,
                );
            }
        }
        for part in &parts {
            if let Part::Text { markdown, start } = part {
                text::check(markdown, *start, &mut self.problems);
            }
        }
        parts
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

/// Whether each of `n` items is there once.
pub(super) fn is_order(order: &[usize], n: usize) -> bool {
    let mut sorted = order.to_vec();
    sorted.sort_unstable();
    sorted.into_iter().eq(0..n)
}

/// The name among `known` that is near, if any.
pub(super) fn nearest<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> Option<String> {
    known
        .into_iter()
        .map(|known| (strsim::jaro_winkler(known, name), known))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(likeness, _)| *likeness > 0.8)
        .map(|(_, known)| known.to_owned())
}
