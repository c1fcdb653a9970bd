//! Blocks in layers from top to bottom, with a place in each layer for every arrow that passes it.
//!
//! The stages are those of Sugiyama, Tagawa and Toda (1981): ranks, order within a rank, coordinates.

use super::super::model::StateId;
use super::layout::{LETTER, LINE, Point, Size};

/// Size of a start dot.
const DOT: f64 = 10.0;
/// Space between two neighbours in a layer.
const BETWEEN: f64 = 18.0;
/// Space between two layers, where arrows bend.
pub(super) const LAYER_GAP: f64 = 14.0;
/// How often order and coordinates are improved, down and up in turn.
const SWEEPS: usize = 12;

/// A state laid out by itself, its corner at the origin.
pub(super) struct Block {
    pub state: Option<StateId>,
    pub size: Size,
    pub lines: Vec<String>,
    pub inside: Vec<(Point, Block)>,
    /// Arrows inside: what they are and the places that they run through, from the upper end to the lower.
    pub runs: Vec<Run>,
}

/// An arrow on its way through the layers.
#[derive(Clone)]
pub(super) struct Run {
    pub end: End,
    /// From the upper end to the lower.
    pub through: Vec<Point>,
    pub label_centre: Point,
}

/// What a run's ends are tied to.
#[derive(Clone, Copy)]
pub(super) enum End {
    /// A link, by its place among all, and whether its source is the upper end.
    Link { place: usize, downward: bool },
    /// From a start dot to a state.
    Start { target: StateId },
}

/// Blocks to be put into layers, and places for the arrows between them.
pub(super) struct Graph {
    blocks: Vec<Option<Block>>,
    nodes: Vec<Node>,
    chains: Vec<Chain>,
}

/// Something with a place in a layer: a block, or an arrow on its way.
struct Node {
    size: Size,
    layer: usize,
    above: Vec<usize>,
    below: Vec<usize>,
    x: f64,
}

/// An arrow from an upper block to a lower one; the nodes on its way come later.
struct Chain {
    end: End,
    from: usize,
    to: usize,
    label: Size,
    way: Vec<usize>,
}

impl Graph {
    pub fn new(blocks: Vec<Block>) -> Self {
        let nodes = blocks.iter().map(|block| Node::new(block.size)).collect();
        Self { blocks: blocks.into_iter().map(Some).collect(), nodes, chains: Vec::new() }
    }

    pub fn link(&mut self, from: usize, to: usize, end: End, label: Option<&[String]>) {
        let lines = label.unwrap_or_default();
        let letters = lines.iter().map(|line| line.chars().count()).max().unwrap_or(0);
        let label = Size { width: letters as f64 * LETTER, height: lines.len() as f64 * LINE };
        self.chains.push(Chain { end, from, to, label, way: Vec::new() });
    }

    pub fn start(&mut self, to: usize, end: End) {
        let dot = Size { width: DOT, height: DOT };
        let block = Block { state: None, size: dot, lines: Vec::new(), inside: Vec::new(), runs: Vec::new() };
        self.blocks.push(Some(block));
        self.nodes.push(Node::new(dot));
        self.link(self.nodes.len() - 1, to, end, None);
    }

    pub fn laid_out(mut self) -> (Size, Vec<(Point, Block)>, Vec<Run>) {
        self.rank();
        self.thread();
        let layers = self.ordered();
        let width = self.spread(&layers);
        let mut tops = Vec::new();
        let mut y = 0.0;
        for layer in &layers {
            let height = layer.iter().map(|&node| self.nodes[node].size.height).fold(0.0, f64::max);
            tops.push((y, height));
            y += height + LAYER_GAP;
        }
        let runs = self.chains.iter().map(|chain| self.run(chain, &tops)).collect();
        let blocks =
            std::mem::take(&mut self.blocks).into_iter().zip(&self.nodes).filter_map(|(block, node)| {
                let (top, height) = tops[node.layer];
                let corner =
                    Point { x: node.x - node.size.width / 2.0, y: top + (height - node.size.height) / 2.0 };
                block.map(|block| (corner, block))
            });
        (Size { width, height: y - LAYER_GAP }, blocks.collect(), runs)
    }

    /// Every arrow goes down: a block lies below all that lead to it, with one layer between for labels.
    fn rank(&mut self) {
        let count = self.nodes.len();
        let mut order: Vec<usize> = (0..count).collect();
        // Start dots were added last and lead to what comes before.
        order.rotate_right(self.chains.iter().filter(|chain| chain.from > chain.to).count());
        for upper in order {
            for chain in self.chains.iter().filter(|chain| chain.from == upper) {
                self.nodes[chain.to].layer = self.nodes[chain.to].layer.max(self.nodes[upper].layer + 2);
            }
        }
        for dot in 0..self.chains.len() {
            let Chain { end, from, to, .. } = self.chains[dot];
            if matches!(end, End::Start { .. }) {
                self.nodes[from].layer = self.nodes[to].layer.saturating_sub(2);
            }
        }
    }

    /// Gives each arrow a node in every layer that it passes; the one next to its true beginning holds the
    /// label.
    fn thread(&mut self) {
        for place in 0..self.chains.len() {
            let Chain { end, from, to, label, .. } = self.chains[place];
            let (first, last) = (self.nodes[from].layer + 1, self.nodes[to].layer);
            let labelled = if matches!(end, End::Link { downward: false, .. }) { last - 1 } else { first };
            let mut above = from;
            for layer in first..last {
                let size = if layer == labelled { label } else { Size::default() };
                self.nodes.push(Node { layer, ..Node::new(size) });
                let node = self.nodes.len() - 1;
                self.join(above, node);
                self.chains[place].way.push(node);
                above = node;
            }
            self.join(above, to);
        }
    }

    fn join(&mut self, upper: usize, lower: usize) {
        self.nodes[upper].below.push(lower);
        self.nodes[lower].above.push(upper);
    }

    /// The nodes of each layer from left to right, so that few arrows cross: each at the mean place of its
    /// neighbours.
    fn ordered(&self) -> Vec<Vec<usize>> {
        let depth = self.nodes.iter().map(|node| node.layer).max().unwrap_or(0) + 1;
        let mut layers = vec![Vec::new(); depth];
        let mut place = vec![0.0; self.nodes.len()];
        for (index, node) in self.nodes.iter().enumerate() {
            place[index] = layers[node.layer].len() as f64;
            layers[node.layer].push(index);
        }
        for sweep in 0..SWEEPS {
            let down = sweep % 2 == 0;
            let walk: Vec<usize> = if down { (0..depth).collect() } else { (0..depth).rev().collect() };
            for layer in walk {
                let key = |node: &usize| {
                    let neighbours = if down { &self.nodes[*node].above } else { &self.nodes[*node].below };
                    mean(neighbours.iter().map(|&other| place[other])).unwrap_or(place[*node])
                };
                layers[layer].sort_by(|a, b| key(a).total_cmp(&key(b)));
                for (at, &node) in layers[layer].iter().enumerate() {
                    place[node] = at as f64;
                }
            }
        }
        layers
    }

    /// Chooses each node's middle near those of its neighbours without overlap; gives the width of all.
    fn spread(&mut self, layers: &[Vec<usize>]) -> f64 {
        for layer in layers {
            let wish = vec![0.0; layer.len()];
            self.settle(layer, &wish);
        }
        for sweep in 0..SWEEPS {
            let down = sweep % 2 == 0;
            for place in 0..layers.len() {
                let layer = if down { &layers[place] } else { &layers[layers.len() - 1 - place] };
                let wish = |&node: &usize| {
                    let Node { above, below, x, .. } = &self.nodes[node];
                    let all = above.iter().chain(below);
                    mean(all.map(|&other| self.nodes[other].x)).unwrap_or(*x)
                };
                let wishes: Vec<f64> = layer.iter().map(wish).collect();
                self.settle(layer, &wishes);
            }
        }
        let left = self.nodes.iter().map(|node| node.x - node.size.width / 2.0).fold(f64::INFINITY, f64::min);
        self.nodes.iter_mut().for_each(|node| node.x -= left);
        self.nodes.iter().map(|node| node.x + node.size.width / 2.0).fold(0.0, f64::max)
    }

    /// Middles as near the wishes as order and distance let them: halfway between pushing right and pushing
    /// left.
    fn settle(&mut self, layer: &[usize], wishes: &[f64]) {
        let apart =
            |a: usize, b: usize| (self.nodes[a].size.width + self.nodes[b].size.width) / 2.0 + BETWEEN;
        let mut right = wishes.to_vec();
        for at in 1..layer.len() {
            right[at] = right[at].max(right[at - 1] + apart(layer[at - 1], layer[at]));
        }
        let mut left = wishes.to_vec();
        for at in (1..layer.len()).rev() {
            left[at - 1] = left[at - 1].min(left[at] - apart(layer[at - 1], layer[at]));
        }
        for (at, &node) in layer.iter().enumerate() {
            self.nodes[node].x = (right[at] + left[at]) / 2.0;
        }
    }

    fn run(&self, chain: &Chain, tops: &[(f64, f64)]) -> Run {
        let mut through = Vec::new();
        let mut label_centre = Point { x: 0.0, y: 0.0 };
        for &node in &chain.way {
            let Node { x, layer, size, .. } = self.nodes[node];
            let (top, height) = tops[layer];
            through.extend([Point { x, y: top }, Point { x, y: top + height }]);
            if size.height > 0.0 {
                label_centre = Point { x, y: top + height / 2.0 };
            }
        }
        Run { end: chain.end, through, label_centre }
    }
}

impl Node {
    fn new(size: Size) -> Self {
        Self { size, layer: 0, above: Vec::new(), below: Vec::new(), x: 0.0 }
    }
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, count) = values.fold((0.0, 0.0), |(sum, count), value| (sum + value, count + 1.0));
    (count > 0.0).then(|| sum / count)
}
