//! Where everything stands in the room.

use egui::{Rect, pos2};

use super::NARROW;
use crate::app::style::{cut_bottom, cut_top};
use crate::app::{rail, style};

/// Lower than this, in points, a window has no room for a strip under the machine.
const LOW: f32 = 430.0;

/// Where everything stands.
pub(super) struct Room {
    pub(super) title: Rect,
    pub(super) machine: Rect,
    pub(super) figures: Rect,
    pub(super) bridge: Rect,
    pub(super) plots: Rect,
    pub(super) rail: Rect,
}

impl Room {
    /// A phone that lies: the machine has all the height there is, the rest lies beside it.
    fn low(title: Rect, rest: Rect, rail: Rect, gap: f32) -> Self {
        let split = rest.left() + rest.width() * 0.4;
        let machine = Rect::from_min_max(rest.min, pos2(split, rest.bottom()));
        let right = Rect::from_min_max(pos2(split + gap, rest.top()), rest.max);
        let (figures, below) = cut_top(right, style::gap(14.0), gap);
        let split = below.left() + below.width() * 0.4;
        let bridge = Rect::from_min_max(below.min, pos2(split, below.bottom()));
        let plots = Rect::from_min_max(pos2(split + gap, below.top()), below.max);
        Self {
            title,
            machine,
            figures,
            bridge,
            plots,
            rail,
        }
    }

    /// Two columns, or one in a narrow window.
    pub(super) fn new(all: Rect) -> Self {
        let gap = style::gap(2.0);
        let all = all.shrink(gap);
        let (title, rest) = cut_top(all, style::gap(8.0), gap);
        let (rest, rail) = cut_bottom(rest, rail::height(rest.width() - style::gap(6.0)), gap);
        if all.width() < NARROW {
            let (machine, rest) = cut_top(rest, rest.height() * 0.48, gap);
            let (figures, rest) = cut_top(rest, style::gap(14.0), gap);
            let (bridge, plots) = cut_top(rest, rest.height() * 0.5, gap);
            return Self {
                title,
                machine,
                figures,
                bridge,
                plots,
                rail,
            };
        }
        if all.height() < LOW {
            return Self::low(title, rest, rail, gap);
        }
        let split = rest.left() + rest.width() * 0.58;
        let left = Rect::from_min_max(rest.min, pos2(split, rest.bottom()));
        let right = Rect::from_min_max(pos2(split + gap, rest.top()), rest.max);
        let (machine, figures) = cut_bottom(left, style::gap(16.0), gap);
        let (bridge, plots) = cut_top(right, (right.width() * 0.5).min(right.height() * 0.42), gap);
        Self {
            title,
            machine,
            figures,
            bridge,
            plots,
            rail,
        }
    }
}
