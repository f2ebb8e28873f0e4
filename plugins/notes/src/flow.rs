//! Blocks set one under the other on as many pages as they need.

use seamwright_contract::{Length, Page, Point, Rect, num};
use seamwright_drawing::{Align, Canvas, Path, Pen, Style};

use crate::blocks::{Block, Content, Fact, Figure, Step, Table};
use crate::{maps, overview, tidy, words};

const fn points(tenths: i64) -> Length {
    Length::from_um(tenths * 2_540 / 72)
}

pub(crate) const MARGIN: Length = Length::from_mm(14);
pub(crate) const BODY: Length = points(100);
const HEADING: Length = points(130);
const TITLE: Length = points(170);
pub(crate) const SMALL: Length = points(85);
/// Rows of tables.
const TABLE: Length = points(88);
const INDENT: Length = Length::from_mm(8);
/// The tallest drawing, the tallest of a step, and how many of those stand side by side.
const DRAWING: Length = Length::from_mm(84);
const STEP: Length = Length::from_mm(44);
const ACROSS: i64 = 3;
/// The room a heading wants under it on its page, and the head of a page after the first.
const UNDER_HEADING: Length = Length::from_mm(28);
const TOP: Length = Length::from_mm(10);
pub(crate) const RULE: Length = Length::from_um(250);

/// All pages.
pub(crate) fn pages(content: &Content) -> Vec<Canvas> {
    let mut flow = Flow { content, pages: Vec::new(), y: Length::ZERO };
    flow.new_page();
    let mut blocks = content.blocks.as_slice();
    while let Some((block, rest)) = blocks.split_first() {
        // A heading stays with what it names.
        let count = usize::from(matches!(block, Block::Heading(_)) && !rest.is_empty()) + 1;
        let (group, rest) = blocks.split_at(count);
        flow.together(group);
        blocks = rest;
    }
    flow.number_pages();
    flow.pages
}

pub(crate) struct Flow<'a> {
    content: &'a Content,
    pages: Vec<Canvas>,
    /// The top of what comes next.
    pub(crate) y: Length,
}

impl Flow<'_> {
    pub(crate) fn width(&self) -> Length {
        self.content.paper.width - MARGIN * 2
    }

    fn bottom(&self) -> Length {
        self.content.paper.height - MARGIN - Length::from_mm(5)
    }

    fn new_page(&mut self) {
        let mut canvas = Canvas::new(self.content.paper);
        self.y = MARGIN;
        let size = if self.pages.is_empty() { TITLE } else { BODY };
        let title = format!("{} {}", words::TITLE, self.content.job);
        for line in tidy::wrap(Style::Bold, size, &title, self.width(), 2) {
            self.y += size;
            canvas.text(Point::new(MARGIN, self.y), size, Style::Bold, Align::Left, line);
            self.y += size.share(0.35);
        }
        self.y += Length::from_mm(1);
        let end = self.content.paper.width - MARGIN;
        canvas.line(Point::new(MARGIN, self.y), Point::new(end, self.y), Pen::black(RULE));
        self.y += Length::from_mm(4);
        self.pages.push(canvas);
    }

    /// Blocks on one page, where one can hold them; those that no page holds go on as far as they come.
    fn together(&mut self, blocks: &[Block]) {
        let ends_at = |y: Length| {
            let mut trial = Flow { content: self.content, pages: vec![Canvas::new(self.content.paper)], y };
            blocks.iter().for_each(|block| trial.block(block));
            (trial.pages.len() == 1).then_some(trial.y)
        };
        if ends_at(self.y).is_none() && ends_at(MARGIN + TOP).is_some() {
            self.new_page();
        }
        blocks.iter().for_each(|block| self.block(block));
    }

    fn need(&mut self, height: Length) {
        if self.y + height > self.bottom() {
            self.new_page();
        }
    }

    pub(crate) fn page(&mut self) -> Option<&mut Canvas> {
        self.pages.last_mut()
    }

    /// Text broken to a width from `x`, kept together; `y` moves below it.
    fn paragraph(&mut self, x: Length, width: Length, size: Length, style: Style, text: &str) {
        let lines = tidy::wrap(style, size, text, width, 12);
        let leading = Canvas::leading(size);
        self.need(lines.iter().map(|_| leading).sum());
        for line in lines {
            let at = Point::new(x, self.y + size);
            if let Some(page) = self.page() {
                page.text(at, size, style, Align::Left, line);
            }
            self.y += leading;
        }
    }

    /// A paragraph with something before it, which stands on its first line.
    fn marked(&mut self, mark: &str, style: Style, text: &str) {
        let width = self.width() - INDENT;
        let lines = tidy::wrap(style, BODY, text, width, 12);
        self.need(lines.iter().map(|_| Canvas::leading(BODY)).sum());
        let at = Point::new(MARGIN, self.y + BODY);
        if let Some(page) = self.page() {
            page.text(at, BODY, Style::Bold, Align::Left, mark);
        }
        self.paragraph(MARGIN + INDENT, width, BODY, style, text);
    }

    fn block(&mut self, block: &Block) {
        match block {
            Block::Overview(overview) => overview::set(overview, self),
            Block::Together(blocks) => blocks.iter().for_each(|block| self.block(block)),
            Block::Heading(text) => {
                self.need(HEADING + UNDER_HEADING);
                self.y += Length::from_mm(2);
                self.paragraph(MARGIN, self.width(), HEADING, Style::Bold, text);
                self.y += Length::from_mm(1);
            }
            Block::Warnings(warnings) => self.warnings(warnings),
            Block::Steps(steps) => self.steps(steps),
            Block::Points(points) => points.iter().for_each(|point| self.marked("-", Style::Regular, point)),
            Block::Table(table) => self.table(table),
            Block::Figure(figure) => self.figure(figure),
            Block::Form(fields) => self.form(fields),
        }
        self.y += Length::from_mm(2);
    }

    /// Small drawings side by side, each with what is done at it below.
    fn steps(&mut self, steps: &[Step]) {
        let gap = Length::from_mm(6);
        let width = (self.width() - gap * (ACROSS - 1)) / ACROSS;
        let numbered: Vec<(usize, &Step)> = (1..).zip(steps).collect();
        for row in numbered.chunks(usize::try_from(ACROSS).unwrap_or(1)) {
            let said: Vec<Vec<String>> = row
                .iter()
                .map(|(n, step)| tidy::wrap(Style::Regular, TABLE, &format!("{n}. {}", step.text), width, 16))
                .collect();
            // Drawn once beside the page, for how tall the row is.
            let mut beside = Canvas::new(self.content.paper);
            let drawn = row.iter().map(|(_, step)| {
                maps::draw(&step.drawing, &Rect::new(MARGIN, MARGIN, width, STEP), &mut beside) - MARGIN
            });
            let drawn = drawn.max().unwrap_or_default() + Length::from_mm(1);
            let lines = i64::from(num::count(said.iter().map(Vec::len).max().unwrap_or_default()));
            self.need(drawn + Canvas::leading(TABLE) * lines);
            let (top, mut x) = (self.y, MARGIN);
            for ((_, step), lines) in row.iter().zip(&said) {
                let Some(page) = self.pages.last_mut() else { return };
                maps::draw(&step.drawing, &Rect::new(x, top, width, STEP), page);
                let mut y = top + drawn + TABLE;
                for line in lines {
                    page.text(Point::new(x, y), TABLE, Style::Regular, Align::Left, line.clone());
                    y += Canvas::leading(TABLE);
                }
                x += width + gap;
            }
            self.y = top + drawn + Canvas::leading(TABLE) * lines + Length::from_mm(4);
        }
    }

    fn warnings(&mut self, warnings: &[String]) {
        for warning in warnings {
            let top = self.y;
            let pages = self.pages.len();
            self.marked("!", Style::Bold, warning);
            let (top, bottom) =
                (if self.pages.len() == pages { top } else { self.y }, self.y + Length::from_um(600));
            let width = self.width();
            if bottom > top
                && let Some(page) = self.page()
            {
                let bar = Rect::new(MARGIN - Length::from_mm(3), top, Length::from_um(1_200), bottom - top);
                page.fill(Path::rectangle(&bar), 0);
                let end = Point::new(MARGIN + width, bottom);
                page.line(Point::new(MARGIN, bottom), end, Pen { shade: 150, ..Pen::black(RULE) });
            }
            self.y += Length::from_mm(1);
        }
    }

    /// Rows under their heads, which are said again on every new page.
    fn table(&mut self, table: &Table) {
        let widths = columns(table, self.width());
        let heads = Cells::new(&table.heads, &widths, Style::Bold);
        let rows: Vec<Cells> =
            table.rows.iter().map(|row| Cells::new(row, &widths, Style::Regular)).collect();
        self.need(heads.height() + rows.first().map_or(Length::ZERO, Cells::height));
        self.row(&heads, &widths);
        for row in &rows {
            if self.y + row.height() > self.bottom() {
                self.new_page();
                self.row(&heads, &widths);
            }
            self.row(row, &widths);
        }
    }

    fn row(&mut self, cells: &Cells, widths: &[Length]) {
        let (top, under, end) = (self.y, self.y + cells.height() - Cells::BELOW, MARGIN + self.width());
        let Some(page) = self.page() else { return };
        let mut x = MARGIN;
        for (lines, width) in cells.lines.iter().zip(widths) {
            let mut y = top + TABLE;
            for line in lines {
                page.text(Point::new(x, y), TABLE, cells.style, Align::Left, line.clone());
                y += Canvas::leading(TABLE);
            }
            x += *width;
        }
        let pen = Pen { shade: 170, ..Pen::black(RULE) };
        page.line(Point::new(MARGIN, under), Point::new(end, under), pen);
        self.y += cells.height();
    }

    fn figure(&mut self, figure: &Figure) {
        let half = self.width() * 11 / 20;
        let caption = tidy::wrap(Style::Regular, SMALL, &figure.caption, half, 5);
        let facts = self.width() - half - Length::from_mm(6);
        let height = DRAWING.max(facts_height(&figure.facts, facts));
        self.need(height + caption.iter().map(|_| Canvas::leading(SMALL)).sum());
        let top = self.y;
        let room = Rect::new(MARGIN, top, half, DRAWING);
        let mut under = top;
        if let (Some(drawing), Some(page)) = (&figure.drawing, self.page()) {
            under = maps::draw(drawing, &room, page) + Length::from_mm(1);
            for line in caption {
                under += SMALL;
                page.text(Point::new(MARGIN, under), SMALL, Style::Regular, Align::Left, line);
                under += SMALL.share(0.3);
            }
        }
        let x = if figure.drawing.is_some() { MARGIN + half + Length::from_mm(6) } else { MARGIN };
        self.facts(&figure.facts, x, facts);
        self.y = self.y.max(under);
    }

    pub(crate) fn facts(&mut self, facts: &[Fact], x: Length, width: Length) {
        let (names, values) = fact_columns(facts, width);
        for fact in facts {
            let mut y = self.y + BODY;
            let lines = tidy::wrap(Style::Regular, BODY, &fact.value, values, 6);
            let name = tidy::wrap(Style::Bold, BODY, &fact.name, names, 3);
            let rows = lines.len().max(name.len()).max(1);
            if let Some(page) = self.pages.last_mut() {
                for row in 0..rows {
                    if let Some(line) = name.get(row) {
                        page.text(Point::new(x, y), BODY, Style::Bold, Align::Left, line.clone());
                    }
                    if let Some(line) = lines.get(row) {
                        page.text(
                            Point::new(x + names + Length::from_mm(2), y),
                            BODY,
                            Style::Regular,
                            Align::Left,
                            line.clone(),
                        );
                    }
                    y += Canvas::leading(BODY);
                }
            }
            self.y = y - BODY + Length::from_um(400);
        }
    }

    /// Fields with lines to write on, in a frame.
    fn form(&mut self, fields: &[String]) {
        let (line, inset) = (Length::from_mm(11), Length::from_mm(4));
        let height = line * i64::from(num::count(fields.len())) + inset;
        self.need(height);
        let (top, end) = (self.y, MARGIN + self.width());
        for field in fields {
            let base = self.y + line - Length::from_mm(1);
            let start = MARGIN + inset + Style::Regular.width(BODY, field) + Length::from_mm(3);
            if let Some(page) = self.page() {
                let at = Point::new(MARGIN + inset, base);
                page.text(at, BODY, Style::Regular, Align::Left, field.clone());
                page.line(Point::new(start, base), Point::new(end - inset, base), Pen::black(RULE));
            }
            self.y += line;
        }
        let frame = Rect::from_edges(MARGIN, top, end, top + height);
        if let Some(page) = self.page() {
            page.stroke(Path::rectangle(&frame), Pen::black(RULE));
        }
        self.y = frame.bottom();
    }

    fn number_pages(&mut self) {
        let all = self.pages.len();
        let at: Point<Page> =
            Point::new(self.content.paper.width - MARGIN, self.content.paper.height - MARGIN);
        for (n, page) in (1..).zip(&mut self.pages) {
            page.text(at, SMALL, Style::Regular, Align::Right, format!("page {n} of {all}"));
        }
    }
}

/// A row of a table, broken to its columns.
struct Cells {
    style: Style,
    lines: Vec<Vec<String>>,
}

impl Cells {
    /// Free paper under its rule.
    const BELOW: Length = Length::from_um(700);

    fn new(cells: &[String], widths: &[Length], style: Style) -> Self {
        let gap = Length::from_um(1_500);
        let broken = |(cell, width): (&String, &Length)| tidy::wrap(style, TABLE, cell, *width - gap, 20);
        Self { style, lines: cells.iter().zip(widths).map(broken).collect() }
    }

    fn height(&self) -> Length {
        let rows = self.lines.iter().map(Vec::len).max().unwrap_or(1);
        (0..rows).map(|_| Canvas::leading(TABLE)).sum::<Length>() + Self::BELOW
    }
}

/// Each column as wide as its widest cell wants; where the page is narrower, the wide ones share what is left.
fn columns(table: &Table, width: Length) -> Vec<Length> {
    let gap = Length::from_um(2_500);
    let mut columns: Vec<Length> = (0..table.heads.len())
        .map(|column| {
            let head = table.heads.get(column).map_or(Length::ZERO, |head| Style::Bold.width(TABLE, head));
            let cells = table
                .rows
                .iter()
                .filter_map(|row| row.get(column))
                .map(|cell| Style::Regular.width(TABLE, cell));
            cells.fold(head, Length::max) + gap
        })
        .collect();
    let mut widening: Vec<&mut Length> = columns.iter_mut().collect();
    widening.sort();
    let (mut room, mut left) = (width, i64::from(num::count(widening.len())));
    for column in widening {
        *column = (*column).min(room / left);
        room -= *column;
        left -= 1;
    }
    columns
}

/// Widths for names and values of facts.
fn fact_columns(facts: &[Fact], width: Length) -> (Length, Length) {
    let widest = facts.iter().map(|fact| Style::Bold.width(BODY, &fact.name)).max().unwrap_or_default();
    let names = widest.min(width * 2 / 5);
    (names, width - names - Length::from_mm(2))
}

fn facts_height(facts: &[Fact], width: Length) -> Length {
    let (names, values) = fact_columns(facts, width);
    facts
        .iter()
        .map(|fact| {
            let rows = tidy::wrap(Style::Regular, BODY, &fact.value, values, 6).len();
            let rows = rows.max(tidy::wrap(Style::Bold, BODY, &fact.name, names, 3).len()).max(1);
            (0..rows).map(|_| Canvas::leading(BODY)).sum::<Length>() + Length::from_um(400)
        })
        .sum()
}
