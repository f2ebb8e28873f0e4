//! The notes in words alone, for screen readers and phones.

use crate::blocks::{Block, Content, Fact, Figure};
use crate::words;

/// The whole text.
pub(crate) fn of(content: &Content) -> String {
    let mut text = format!("{} {}\n", words::TITLE, content.job);
    for block in &content.blocks {
        write(block, &mut text);
    }
    text
}

fn write(block: &Block, text: &mut String) {
    let mut line = |line: String| {
        text.push_str(&line);
        text.push('\n');
    };
    match block {
        Block::Overview(overview) => facts(&overview.facts).into_iter().for_each(line),
        Block::Together(blocks) => blocks.iter().for_each(|block| write(block, text)),
        Block::Heading(heading) => {
            line(String::new());
            line(heading.to_uppercase());
        }
        Block::Warnings(warnings) => warnings.iter().for_each(|warning| line(format!("WARNING: {warning}"))),
        Block::Steps(steps) => (1..).zip(steps).for_each(|(n, step)| line(format!("{n}. {}", step.text))),
        Block::Points(points) => points.iter().for_each(|point| line(format!("- {point}"))),
        Block::Table(table) => {
            for row in &table.rows {
                let cells: Vec<String> =
                    table.heads.iter().zip(row).map(|(head, cell)| format!("{head}: {cell}")).collect();
                line(cells.join("; "));
            }
        }
        Block::Figure(figure) => self::figure(figure).into_iter().for_each(line),
        Block::Form(fields) => fields.iter().for_each(|field| line(format!("{field}: ____________________"))),
    }
}

fn figure(figure: &Figure) -> Vec<String> {
    figure.words.iter().cloned().chain(facts(&figure.facts)).collect()
}

fn facts(facts: &[Fact]) -> Vec<String> {
    facts.iter().map(|fact| format!("{}: {}", fact.name, fact.value)).collect()
}
