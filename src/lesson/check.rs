//! Whether a lesson is true: starts fail, answers pass, replies fit, claims hold, links lead
//! somewhere, and every number of the text can be had from its run.

use super::condition::ConditionError;
use super::course;
use super::front::nearest;
use super::judge::{judge, letter, right_answer, subject_of};
use super::model::{Answer, Lesson, Part, Task, TaskKind};
use super::problem::{Complaint, LessonErrors, LessonProblem};
use super::runs::{Runs, Subject};
use super::sight::Sight;
use super::text::{self, Target};
use super::{TEXT_FILE, WORDS};
use crate::setup::Place;

/// What a check went through.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Checked {
    /// Words of the text.
    pub n_words: usize,
    /// Runs.
    pub n_runs: usize,
    /// Tasks.
    pub n_tasks: usize,
    /// Numbers in the text that come from runs.
    pub n_numbers: usize,
    /// Claims.
    pub n_claims: usize,
}

/// Checks a lesson with all of its runs.
///
/// # Errors
/// Everything that is not as it should be.
pub fn check(lesson: &Lesson) -> Result<Checked, LessonErrors> {
    let mut checker = Checker {
        runs: Runs::new(lesson),
        problems: Vec::new(),
        n_numbers: 0,
    };
    checker.all_runs();
    if checker.problems.is_empty() {
        checker.claims();
        checker.texts();
        for task in &lesson.tasks {
            checker.task(task);
        }
    }
    if checker.problems.is_empty() {
        Ok(Checked {
            n_words: n_words(lesson),
            n_runs: lesson.runs.len(),
            n_tasks: lesson.tasks.len(),
            n_numbers: checker.n_numbers,
            n_claims: lesson.claims.len(),
        })
    } else {
        let text = lesson.files.texts.get(TEXT_FILE).map_or("", String::as_str);
        Err(LessonErrors::new(
            &lesson.files.folder,
            text,
            checker.problems,
        ))
    }
}

/// Words of a lesson's text, tasks apart.
#[must_use]
pub fn n_words(lesson: &Lesson) -> usize {
    lesson
        .parts
        .iter()
        .map(|part| match part {
            Part::Text { markdown, .. } => text::n_words(markdown),
            Part::Task(_) => 0,
        })
        .sum()
}

struct Checker<'a> {
    runs: Runs<'a>,
    problems: Vec<LessonProblem>,
    n_numbers: usize,
}

impl Checker<'_> {
    fn say(&mut self, complaint: Complaint, place: Place) {
        self.problems.push(LessonProblem::at(complaint, place));
    }

    fn all_runs(&mut self) {
        let lesson = self.runs.lesson();
        if lesson.runs.is_empty() {
            let complaint = Complaint::Unknown {
                what: "run in the lesson, not even one called",
                name: "start".to_owned(),
                nearest: None,
            };
            self.problems.push(complaint.into());
        }
        for spec in &lesson.runs {
            if let Err(complaint) = self.runs.get(&spec.name, false) {
                self.say(complaint, spec.place);
            }
        }
    }

    fn claims(&mut self) {
        for claim in &self.runs.lesson().claims {
            let subject = Subject::default();
            match self.runs.holds(&claim.condition, &subject) {
                Ok(true) => {}
                Ok(false) => {
                    let found = claim.condition.text();
                    let mut values = Vec::new();
                    for name in claim.condition.names() {
                        if let Ok(value) = self.runs.look(&subject, super::Ask::Fact(name)) {
                            values.push(format!("{name} is {}", super::spaced(&value, 5, false)));
                        }
                    }
                    let found = format!("{found} ({})", values.join(", "));
                    self.say(Complaint::Claim { found }, claim.place);
                }
                Err(error) => self.say(error.complaint, claim.place),
            }
        }
    }

    fn texts(&mut self) {
        let lesson = self.runs.lesson();
        let n = n_words(lesson);
        if !(WORDS.0..=WORDS.1).contains(&n) {
            let (from, to) = WORDS;
            self.problems.push(Complaint::Words { n, from, to }.into());
        }
        for part in &lesson.parts {
            let Part::Text { markdown, start } = part else {
                continue;
            };
            match self.runs.fill(markdown, &Subject::default()) {
                Ok(_) => self.n_numbers += text::placeholders(markdown).map_or(0, |all| all.len()),
                Err((complaint, range)) => {
                    let place = Place {
                        start: start + range.start,
                        end: start + range.end,
                    };
                    self.say(complaint, place);
                }
            }
            self.links(markdown, *start, None);
            for (picture, range) in text::pictures(markdown) {
                let place = Place {
                    start: start + range.start,
                    end: start + range.end,
                };
                let drawn = self
                    .runs
                    .get(&picture.run, true)
                    .map(|ran| ran.sample(picture.at_s).is_some());
                match drawn {
                    Ok(true) => {}
                    Ok(false) => {
                        let name = format!("instant of the picture of {}", picture.run);
                        self.say(Complaint::Absent { name }, place);
                    }
                    Err(complaint) => self.say(complaint, place),
                }
            }
        }
        let glossary = course::glossary();
        for name in &lesson.terms {
            if glossary.term(name).is_none() {
                let nearest = nearest(name, glossary.terms.iter().map(|term| term.name.as_str()));
                let name = text::harmless(name);
                self.problems.push(Complaint::Term { name, nearest }.into());
            }
        }
    }

    /// Whether one of the runs has a machine with that slot or magnet; the rest is always there.
    fn is_there(&self, sight: &Sight) -> bool {
        let lesson = self.runs.lesson();
        lesson.runs.iter().any(|spec| {
            let machine = self
                .runs
                .setup_with(spec, &[])
                .map(|(setup, _)| setup.machine);
            match (sight, machine) {
                (Sight::Slot(slot), Ok(machine)) => *slot < machine.slots as usize,
                (Sight::Magnet(pole), Ok(machine)) => *pole < machine.poles,
                _ => true,
            }
        })
    }

    /// Links of a text that begins at `start`, or that stands at `whole`.
    fn links(&mut self, markdown: &str, start: usize, whole: Option<Place>) {
        for (link, range) in text::links(markdown) {
            let place = whole.unwrap_or(Place {
                start: start + range.start,
                end: start + range.end,
            });
            match link {
                Target::Term(name) => {
                    let glossary = course::glossary();
                    if glossary.term(&name).is_none() {
                        let known = glossary.terms.iter().map(|term| term.name.as_str());
                        let nearest = nearest(&name, known);
                        self.say(Complaint::Term { name, nearest }, place);
                    }
                }
                Target::See(sight) => {
                    if !self.is_there(&sight) {
                        let target = sight.words();
                        let nearest = None;
                        self.say(Complaint::Sight { target, nearest }, place);
                    }
                }
                Target::Lesson(name) => {
                    if course::folders().all(|folder| folder != name) {
                        let nearest = nearest(&name, course::folders());
                        self.say(
                            Complaint::Unknown {
                                what: "lesson of the course",
                                name,
                                nearest,
                            },
                            place,
                        );
                    }
                }
            }
        }
    }

    fn task(&mut self, task: &Task) {
        if let Err(error) = self.task_texts(task).and_then(|()| self.task_answers(task)) {
            self.say(error, task.place);
        }
    }

    /// Every text of a task can have its numbers put in.
    fn task_texts(&mut self, task: &Task) -> Result<(), Complaint> {
        let subject = subject_of(task, &mut self.runs, &[])?;
        let mut texts = vec![&task.ask, &task.worked, &task.hints[0], &task.hints[1]];
        match &task.kind {
            TaskKind::Choice(options) => {
                for option in options {
                    texts.extend([&option.text, &option.reply]);
                }
            }
            TaskKind::Order { items, .. } => texts.extend(items),
            TaskKind::Number { .. } | TaskKind::Bench { .. } => {}
        }
        for words in texts {
            if words.trim().is_empty() {
                return Err(Complaint::Task {
                    task: task.name.clone(),
                    reason: "one of its texts is empty",
                    remedy: "ask, both hints, the worked answer and every reply say something",
                });
            }
            self.runs
                .fill(words, &subject)
                .map_err(|(complaint, _)| complaint)?;
            let mut problems = Vec::new();
            text::check(words, 0, &mut problems);
            if let Some(problem) = problems.into_iter().next() {
                return Err(problem.complaint);
            }
            self.links(words, 0, Some(task.place));
        }
        Ok(())
    }

    fn task_answers(&mut self, task: &Task) -> Result<(), Complaint> {
        let told = |error: ConditionError| error.complaint;
        let name = || task.name.clone();
        match &task.kind {
            TaskKind::Choice(options) => {
                let right = right_answer(task, &mut self.runs, &[]).map_err(told)?;
                if right.chars().count() != 1 {
                    let detail = if right.is_empty() {
                        "none of its choices is right".to_owned()
                    } else {
                        format!("more than one choice is right: {right}")
                    };
                    return Err(Complaint::AnswerFails {
                        task: name(),
                        detail,
                    });
                }
                debug_assert!(
                    options.len() >= 2,
                    "the reader of the front matter saw to it"
                );
                Ok(())
            }
            TaskKind::Number { answer, vary, .. } => {
                let answer = Answer::parse(task, &[answer])?;
                self.passes(task, &answer)?;
                self.examples(task)?;
                if task.replies.is_empty() {
                    return Err(no_reply(task));
                }
                // each value of a sheet has a figure
                for (key, values) in vary {
                    for value in values {
                        let set = [(key.clone(), value.clone())];
                        right_answer(task, &mut self.runs, &set).map_err(told)?;
                    }
                }
                Ok(())
            }
            TaskKind::Bench { answer, .. } => {
                let untouched = Answer::Set(Vec::new());
                let verdict = judge(task, &untouched, &mut self.runs, &[]).map_err(told)?;
                if verdict.passed {
                    let detail = verdict.found;
                    return Err(Complaint::StartPasses {
                        task: name(),
                        detail,
                    });
                }
                self.passes(task, &Answer::Set(answer.clone()))?;
                self.examples(task)?;
                if task.replies.is_empty() {
                    return Err(no_reply(task));
                }
                Ok(())
            }
            TaskKind::Order { items, legs } => {
                let shown = Answer::Order(task.shown_order());
                let verdict = judge(task, &shown, &mut self.runs, &[]).map_err(told)?;
                if verdict.passed {
                    let detail = "the list is shown in its right order".to_owned();
                    return Err(Complaint::StartPasses {
                        task: name(),
                        detail,
                    });
                }
                self.passes(task, &Answer::Order((0..items.len()).collect()))?;
                self.examples(task)?;
                if let Some((run, states)) = legs {
                    let ran = self.runs.get(run, true)?;
                    let seen = ran.leg_states();
                    let in_order = seen
                        .windows(states.len())
                        .any(|window| window == states.as_slice());
                    if !in_order {
                        let some: Vec<&str> = seen.iter().take(12).map(String::as_str).collect();
                        let detail = format!("the legs of the run go through {}", some.join(" "));
                        return Err(Complaint::AnswerFails {
                            task: name(),
                            detail,
                        });
                    }
                }
                Ok(())
            }
        }
    }

    fn passes(&mut self, task: &Task, answer: &Answer) -> Result<(), Complaint> {
        let verdict = judge(task, answer, &mut self.runs, &[]).map_err(|error| error.complaint)?;
        if verdict.passed {
            return Ok(());
        }
        Err(Complaint::AnswerFails {
            task: task.name.clone(),
            detail: verdict.found,
        })
    }

    /// Every reply is got by its example, and the example is wrong.
    fn examples(&mut self, task: &Task) -> Result<(), Complaint> {
        for (idx, reply) in task.replies.iter().enumerate() {
            let n = idx + 1;
            let verdict = judge(task, &reply.example, &mut self.runs, &[])
                .map_err(|error| error.complaint)?;
            let subject_free = |words: &str| text::bare(words);
            let detail = if verdict.passed {
                format!("the wrong answer of reply {n} passes ({})", verdict.found)
            } else {
                let got = verdict.reply.unwrap_or_default();
                // texts with numbers differ where the numbers stand
                let fixed = reply.say.split("{{").next().unwrap_or_default();
                if subject_free(&got).starts_with(subject_free(fixed).trim()) {
                    continue;
                }
                format!("the wrong answer of reply {n} gets another one: {got}")
            };
            return Err(Complaint::Reply {
                task: task.name.clone(),
                detail,
            });
        }
        Ok(())
    }
}

fn no_reply(task: &Task) -> Complaint {
    Complaint::Task {
        task: task.name.clone(),
        reason: "it has no reply to a wrong answer that fits the mistake",
        remedy: "add a [[task.reply]] with when, try and say",
    }
}

/// The wrong choices of a task, for tests and sheets.
#[must_use]
pub fn wrong_choices(task: &Task, runs: &mut Runs<'_>) -> Vec<char> {
    let TaskKind::Choice(options) = &task.kind else {
        return Vec::new();
    };
    (0..options.len())
        .filter(|idx| {
            judge(task, &Answer::Choice(*idx), runs, &[]).is_ok_and(|verdict| !verdict.passed)
        })
        .map(letter)
        .collect()
}
