//! `wyebench wind`: a winding for slots and poles, as figures, as a list to wind by, as a picture.

use std::io::Write as _;

use super::arguments::{ConnectionName, ThemeName, WindArguments};
use super::files::{FileError, Format, OutputTarget, WholeFile};
use super::{Failure, Terminal, input};
use crate::export::picture::Picture;
use crate::machine::rewind::WINDING_CAUTIONS;
use crate::machine::winding_steps::WindingSteps;
use crate::scene::developed::{DevelopedView, developed, title};
use crate::scene::to_svg;
use crate::setup::{Connection, Construction, Setup};
use crate::winding::{CoilOrder, WindReport, Winding};

/// Pixels of a PNG per point of the picture.
const PIXELS_PER_POINT: f32 = 2.0;

/// What is wound, from the command line or from a setup.
struct Asked {
    winding: Winding,
    turns: Option<u32>,
    connection: Connection,
    construction: Option<Construction>,
    n_parallel: u32,
}

impl Asked {
    fn new(arguments: &WindArguments) -> Result<Self, Failure> {
        if let Some(path) = &arguments.setup {
            return Self::of_setup(&input::read_setup(path)?, arguments.paths);
        }
        // The command line lets neither be absent without a setup.
        let (slots, poles) = (
            arguments.slots.unwrap_or_default(),
            arguments.poles.unwrap_or_default(),
        );
        Ok(Self {
            winding: Winding::lay_out(slots, poles, arguments.layers, arguments.span)?,
            turns: arguments.turns,
            connection: match arguments.connection {
                ConnectionName::Star => Connection::Star,
                ConnectionName::Delta => Connection::Delta,
            },
            construction: None,
            n_parallel: arguments.paths.unwrap_or(1),
        })
    }

    fn of_setup(setup: &Setup, paths: Option<u32>) -> Result<Self, Failure> {
        let machine = &setup.machine;
        let (slots, poles) = (machine.slots, machine.poles);
        let written = machine.winding.as_ref();
        let winding = match written {
            None => Winding::lay_out(slots, poles, 2, 1)?,
            Some(written) => match &written.layout {
                Some(sides) => Winding::from_layout(slots, poles, written.layers, sides)?,
                None => Winding::lay_out(slots, poles, written.layers, written.coil_span)?,
            },
        };
        Ok(Self {
            winding,
            turns: written.and_then(|written| written.turns),
            connection: machine.connection,
            construction: Some(machine.construction),
            n_parallel: paths.unwrap_or_else(|| written.map_or(1, |w| w.parallel_paths)),
        })
    }
}

pub(crate) fn command(
    arguments: &WindArguments,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let target = arguments
        .output
        .as_ref()
        .map(|path| OutputTarget::check(path, &[Format::Svg, Format::Png]))
        .transpose()?;
    let asked = Asked::new(arguments)?;
    if let Some(target) = &target {
        draw(&asked, arguments.theme, target)?;
    }
    if arguments.steps {
        let order = CoilOrder::of(&asked.winding, asked.n_parallel)?;
        let steps = WindingSteps {
            winding: &asked.winding,
            order: &order,
            turns: asked.turns,
            connection: asked.connection,
            construction: asked.construction,
        };
        write!(terminal.out, "{}", steps.text())?;
        for caution in WINDING_CAUTIONS {
            writeln!(terminal.out, "⚠ {caution}")?;
        }
        return Ok(());
    }
    let report = WindReport::of(&asked.winding);
    if arguments.json {
        writeln!(terminal.out, "{}", serde_json::to_string_pretty(&report)?)?;
    } else if target.is_none() {
        write!(terminal.out, "{}", report.text())?;
    }
    Ok(())
}

fn draw(asked: &Asked, theme: ThemeName, target: &OutputTarget) -> Result<(), Failure> {
    let order = CoilOrder::of(&asked.winding, asked.n_parallel)?;
    let view = DevelopedView {
        winding: &asked.winding,
        order: &order,
        turns: asked.turns,
        connection: asked.connection,
    };
    let theme = theme.theme();
    let scene = developed(&view, &theme);
    let size = scene.high - scene.low;
    let drawing = to_svg(&scene, [size.x, size.y], theme.panel, true);
    let steps = WindingSteps {
        winding: &asked.winding,
        order: &order,
        turns: asked.turns,
        connection: asked.connection,
        construction: asked.construction,
    };
    // Who cannot see the picture gets what it says as a list.
    let picture = Picture::new(drawing, title(&view), steps.text());
    let bytes = match target.format() {
        Format::Png => picture.png(PIXELS_PER_POINT)?,
        _ => picture.svg()?.into_bytes(),
    };
    let mut file = WholeFile::begin(target)?;
    file.write_all(&bytes).map_err(|error| {
        Failure::File(FileError::Write {
            path: target.path().to_path_buf(),
            error,
        })
    })?;
    Ok(file.finish()?)
}
