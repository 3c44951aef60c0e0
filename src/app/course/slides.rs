//! A lesson as a talk: one thing at a time, and the class says what it expects before it sees.

use super::blocks::{Block, Span, plain};
use crate::lesson::text::{PictureWish, Target};
use crate::lesson::{Lesson, Part, Sight, TaskKind};
use crate::scene::plots::Row;

/// Words that one slide may hold where several pieces share it.
const MOST_WORDS: usize = 70;

/// One thing on the wall.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Slide {
    /// The title.
    Title,
    /// Some words under the heading of their part.
    Say {
        /// The heading.
        heading: String,
        /// The words.
        blocks: Vec<Block>,
        /// What they point at.
        sight: Option<Sight>,
    },
    /// A picture of a run.
    Picture {
        /// The heading.
        heading: String,
        /// Which.
        wish: PictureWish,
        /// What is seen.
        words: String,
    },
    /// A question that waits.
    Ask(usize),
    /// Its answer.
    Reveal(usize),
    /// The motor itself: a run, with the keys that answer a task where it is one's.
    Watch {
        /// The run.
        run: String,
        /// A task on the bench whose answer is set.
        task: Option<usize>,
        /// The one row of waveforms beside it.
        row: Row,
    },
    /// The one idea, at the end.
    Idea,
}

/// The slides of a lesson whose text fell into these pieces.
pub(crate) fn slides(lesson: &Lesson, texts: &[Vec<Block>]) -> Vec<Slide> {
    let mut maker = Maker {
        lesson,
        out: vec![Slide::Title],
        heading: String::new(),
        row: lesson.plot.unwrap_or(Row::LeadCurrents),
        watched: false,
    };
    for (part, blocks) in lesson.parts.iter().zip(texts) {
        match part {
            Part::Text { .. } => maker.text(blocks),
            Part::Task(idx) => maker.task(*idx),
        }
    }
    maker.out.push(Slide::Idea);
    maker.out
}

struct Maker<'a> {
    lesson: &'a Lesson,
    out: Vec<Slide>,
    heading: String,
    row: Row,
    watched: bool,
}

impl Maker<'_> {
    fn text(&mut self, blocks: &[Block]) {
        let mut fresh = true;
        for block in blocks {
            match block {
                Block::Heading(_, spans) => {
                    self.heading = plain(spans);
                    fresh = true;
                }
                Block::Picture(wish, words) => {
                    self.out.push(Slide::Picture {
                        heading: self.heading.clone(),
                        wish: wish.clone(),
                        words: words.clone(),
                    });
                    fresh = true;
                }
                Block::Rule => fresh = true,
                block => {
                    self.say(block, fresh);
                    fresh = matches!(block, Block::Caution(_) | Block::Table(_));
                }
            }
        }
    }

    fn say(&mut self, block: &Block, fresh: bool) {
        let alone = fresh || matches!(block, Block::Caution(_) | Block::Table(_));
        let new_sight = sight_of(block);
        if let Some(row) = new_sight.as_ref().and_then(Sight::row) {
            self.row = row;
        }
        let more = n_words(block);
        if let (false, Some(Slide::Say { blocks, sight, .. })) = (alone, self.out.last_mut()) {
            let here: usize = blocks.iter().map(n_words).sum();
            let one_sight = sight.is_none() || new_sight.is_none();
            // points of a list stay together; a short line stays with what it belongs to
            let joined = matches!(block, Block::Point { .. }) || here.min(more) < 12;
            if one_sight && joined && here + more <= MOST_WORDS {
                blocks.push(block.clone());
                *sight = sight.take().or(new_sight);
                return;
            }
        }
        self.out.push(Slide::Say {
            heading: self.heading.clone(),
            blocks: vec![block.clone()],
            sight: new_sight,
        });
    }

    /// The class answers, then it is shown; the motor itself comes after the first prediction,
    /// and after each task on the bench.
    fn task(&mut self, idx: usize) {
        self.out.extend([Slide::Ask(idx), Slide::Reveal(idx)]);
        let bench = match &self.lesson.tasks[idx].kind {
            TaskKind::Bench { run, .. } => Some(run.clone()),
            _ => None,
        };
        let first = self.lesson.runs.first().filter(|_| !self.watched);
        let task = bench.is_some().then_some(idx);
        if let Some(run) = bench.or_else(|| first.map(|run| run.name.clone())) {
            self.watched = true;
            let row = self.row;
            self.out.push(Slide::Watch { run, task, row });
        }
    }
}

fn n_words(block: &Block) -> usize {
    let count = |spans: &[Span]| plain(spans).split_whitespace().count();
    match block {
        Block::Heading(_, spans) | Block::Paragraph(spans) | Block::Point { spans, .. } => {
            count(spans)
        }
        Block::Caution(paragraphs) => paragraphs.iter().map(|spans| count(spans)).sum(),
        Block::Code(words) => words.split_whitespace().count(),
        Block::Table(rows) => rows.iter().flatten().map(|cell| count(cell)).sum(),
        Block::Picture(..) | Block::Rule => 0,
    }
}

/// What a piece points at first.
fn sight_of(block: &Block) -> Option<Sight> {
    let of = |spans: &[Span]| {
        spans.iter().find_map(|span| match &span.link {
            Some(Target::See(sight)) => Some(sight.clone()),
            _ => None,
        })
    };
    match block {
        Block::Heading(_, spans) | Block::Paragraph(spans) | Block::Point { spans, .. } => {
            of(spans)
        }
        Block::Caution(paragraphs) => paragraphs.iter().find_map(|spans| of(spans)),
        Block::Table(rows) => rows.iter().flatten().find_map(|cell| of(cell)),
        Block::Code(_) | Block::Picture(..) | Block::Rule => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::app::course::blocks::blocks;
    use crate::lesson::course;

    /// In every lesson of the course: a question before its answer, the motor after the first
    /// prediction, and nothing on a slide that a room could not read.
    #[test]
    fn every_lesson_is_a_talk() {
        for folder in course::folders() {
            let lesson = course::lesson(folder).unwrap().unwrap();
            let texts: Vec<Vec<Block>> = lesson
                .parts
                .iter()
                .map(|part| match part {
                    Part::Text { markdown, .. } => blocks(markdown),
                    Part::Task(_) => Vec::new(),
                })
                .collect();
            let all = slides(&lesson, &texts);
            assert_eq!(
                (all.first(), all.last()),
                (Some(&Slide::Title), Some(&Slide::Idea))
            );
            for (at, slide) in all.iter().enumerate() {
                if let Slide::Reveal(idx) = slide {
                    assert_eq!(all[at - 1], Slide::Ask(*idx), "{folder}");
                }
                if let Slide::Say { blocks, .. } = slide {
                    let words: usize = blocks.iter().map(n_words).sum();
                    assert!(words <= 130, "{folder}: {words} words on slide {at}");
                }
            }
            let n_asked = all
                .iter()
                .filter(|slide| matches!(slide, Slide::Ask(_)))
                .count();
            assert_eq!(n_asked, lesson.tasks.len(), "{folder}");
            assert!(
                all.iter().any(|slide| matches!(slide, Slide::Watch { .. })),
                "{folder}"
            );
            let n_pictures = lesson.parts.iter().map(|part| match part {
                Part::Text { markdown, .. } => crate::lesson::text::pictures(markdown).len(),
                Part::Task(_) => 0,
            });
            let n_shown = all
                .iter()
                .filter(|slide| matches!(slide, Slide::Picture { .. }))
                .count();
            assert_eq!(n_shown, n_pictures.sum::<usize>(), "{folder}");
        }
    }
}
