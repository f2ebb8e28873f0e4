//! The stage and the writer: what of an answer goes where.

use std::io::Write as _;
use std::sync::Arc;

use seamwright_contract::layout::{Layout, Ran, RanFile};
use seamwright_contract::plugin::{Fact, Means, Outbox, Stage, Writer};
use seamwright_contract::settings::Node;
use seamwright_contract::{Fault, Rect};

use crate::NAME;
use crate::answer::Done;
use crate::attempt::run;
use crate::manifest::{self, Gift, Program};
use crate::scratch;

/// The stage of a manifest.
pub(crate) fn stage(node: &Node<'_>) -> Option<Box<dyn Stage>> {
    let program = manifest::read(node)?;
    if program.gives(Gift::Files) {
        node.complain(
            format!("`{}` gives files, which only writers add to a job", program.name),
            "List it in `writers:`.",
        );
        return None;
    }
    let mut before = Vec::new();
    if program.gives(Gift::Picture) {
        // What people are shown of a picture is made with its colours.
        before.push(Fact::Colour);
    }
    if !program.gives.is_empty() {
        before.push(Fact::Panels);
    }
    Some(Box::new(ProgramStage { program, before }))
}

/// The writer of a manifest.
pub(crate) fn writer(node: &Node<'_>) -> Option<Box<dyn Writer>> {
    let program = manifest::read(node)?;
    if let Some(gift) = program.gives.iter().find(|gift| **gift != Gift::Files) {
        node.complain(
            format!("`{}` gives `{}`, but when writers write all is decided", program.name, gift.word()),
            "List it in `stages:`, or let it give `files` alone.",
        );
        return None;
    }
    Some(Box::new(ProgramWriter { program }))
}

#[derive(Debug)]
struct ProgramStage {
    program: Program,
    before: Vec<Fact>,
}

impl Stage for ProgramStage {
    fn apply(&self, layout: Layout) -> Result<Layout, Fault> {
        let program = &self.program;
        let ran = ran(program)?;
        let done = run(program, &layout)?;
        let mut layout = taken(program, layout, done)?;
        layout.programs.push(ran);
        Ok(layout)
    }

    fn needs(&self) -> &[Fact] {
        &self.program.needs
    }

    fn before(&self) -> &[Fact] {
        &self.before
    }
}

/// The layout with what a program gave.
fn taken(program: &Program, mut layout: Layout, done: Done) -> Result<Layout, Fault> {
    if let Some(picture) = done.picture {
        layout.picture = Arc::new(picture);
        layout.on_screen = None;
    }
    let design = Rect::of_size(layout.order.size);
    for zone in done.keep_clear {
        let inside = zone.intersection(&design).ok_or_else(|| {
            Fault::setup(
                format!("It keeps a part clear that lies beyond the design, at {} from the left.", zone.x),
                "Let it measure from the design's top left, in micrometres.",
            )
            .at(program.name.as_str())
        })?;
        layout.order.keep_clear.push(inside);
    }
    layout.order.extra_sheets = done.extra_sheets.unwrap_or(layout.order.extra_sheets);
    layout.order.note = done.note.or(layout.order.note);
    for remark in done.remarks {
        layout.remark(NAME, format!("{}: {remark}", program.name));
    }
    for warning in done.warnings {
        layout.warn(NAME, format!("{}: {warning}", program.name));
    }
    Ok(layout)
}

/// What a program consists of at this moment.
fn ran(program: &Program) -> Result<Ran, Fault> {
    let file = |file: &manifest::ProgramFile| -> Result<RanFile, Fault> {
        let sha256 = scratch::sha256(&file.path).map_err(|why| {
            Fault::machine(format!("{} cannot be read: {why}.", file.name), "See that the disk is well.")
        })?;
        Ok(RanFile { name: file.name.clone(), sha256 })
    };
    Ok(Ran { name: program.name.clone(), files: program.files.iter().map(file).collect::<Result<_, _>>()? })
}

#[derive(Debug)]
struct ProgramWriter {
    program: Program,
}

impl Writer for ProgramWriter {
    fn write(&self, layout: &Layout, _means: &Means, to: &mut dyn Outbox) -> Result<(), Fault> {
        let done = run(&self.program, layout)?;
        for remark in done.remarks.iter().chain(&done.warnings) {
            tracing::info!(program = self.program.name, "{remark}");
        }
        for (name, mut file) in done.files {
            let mut out = to.create(&name)?;
            std::io::copy(&mut file, &mut out)
                .and_then(|_| out.flush())
                .map_err(|why| Fault::unwritten(&name, why))?;
        }
        Ok(())
    }

    fn needs(&self) -> &[Fact] {
        &self.program.needs
    }
}
