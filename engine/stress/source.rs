//! Random numbers for sixteen draws side by side.
//!
//! Each block of [`LANES`] draws has a ChaCha stream of its own, so what a block draws depends on nothing but seed and
//! block, whatever thread it falls to. Normals and exponentials are made in stock, many at a time, in vector loops.

use chacha20::ChaCha8Rng;
use rand::{Rng, SeedableRng};

use super::elementary::{above_zero, below_one, ln, sin_cos};
use crate::circuit::LANES;

/// Numbers made at a time, and twice the pairs of normals among them.
const STOCK: usize = 128;
const PAIRS: usize = STOCK / 2;

/// A standard normal that is a candidate for a gamma, with the beginning of the uniform number that will judge it.
#[derive(Clone, Copy)]
pub(super) struct Candidate {
    pub normal: f64,
    /// The first [`UNIFORM_BITS`] bits of a uniform number, from bits that the normal has left over.
    pub uniform: f64,
}

/// Bits in [`Candidate::uniform`].
pub(super) const UNIFORM_BITS: u32 = 10;

/// The random numbers of one block of draws.
pub(super) struct Source {
    generator: ChaCha8Rng,
    normals: [f64; STOCK],
    uniforms: [f64; STOCK],
    normals_used: usize,
    exponentials: [f64; STOCK],
    exponentials_used: usize,
}

impl Source {
    /// The numbers of one block.
    pub fn new(seed: u64, block: u64) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        generator.set_stream(block);
        Self {
            generator,
            normals: [0.0; STOCK],
            uniforms: [0.0; STOCK],
            normals_used: STOCK,
            exponentials: [0.0; STOCK],
            exponentials_used: STOCK,
        }
    }

    /// One candidate for each lane: normals, and the uniform numbers with them.
    #[inline(always)]
    pub fn candidates(&mut self) -> ([f64; LANES], [f64; LANES]) {
        if self.normals_used + LANES > STOCK {
            self.restock_normals();
        }
        let range = self.normals_used..self.normals_used + LANES;
        self.normals_used = range.end;
        let (mut normals, mut uniforms) = ([0.0; LANES], [0.0; LANES]);
        normals.copy_from_slice(&self.normals[range.clone()]);
        uniforms.copy_from_slice(&self.uniforms[range]);
        (normals, uniforms)
    }

    /// One candidate.
    #[inline(never)]
    pub fn candidate(&mut self) -> Candidate {
        if self.normals_used == STOCK {
            self.restock_normals();
        }
        let place = self.normals_used;
        self.normals_used += 1;
        Candidate {
            normal: self.normals[place],
            uniform: self.uniforms[place],
        }
    }

    /// A standard exponential for each lane.
    #[inline(always)]
    pub fn exponentials(&mut self) -> [f64; LANES] {
        if self.exponentials_used == STOCK {
            let words = words(&mut self.generator);
            for (exponential, word) in self.exponentials.iter_mut().zip(words) {
                *exponential = -ln(above_zero(word));
            }
            self.exponentials_used = 0;
        }
        let range = self.exponentials_used..self.exponentials_used + LANES;
        self.exponentials_used = range.end;
        let mut exponentials = [0.0; LANES];
        exponentials.copy_from_slice(&self.exponentials[range]);
        exponentials
    }

    /// A uniform number from 0 to below 1.
    pub fn uniform(&mut self) -> f64 {
        below_one(self.generator.next_u64(), 52)
    }

    /// Normals in pairs: a radius √(−2 ln u) and an angle, taken within a quarter turn and carried to one of four by two
    /// bits.
    ///
    /// Source: Box & Muller 1958, *Annals of Mathematical Statistics* 29:610–611.
    #[inline(always)]
    fn restock_normals(&mut self) {
        let words = words(&mut self.generator);
        for pair in 0..PAIRS {
            let (radius, angle) = (words[pair], words[PAIRS + pair]);
            let (sine, cosine) = sin_cos(0.5 - above_zero(angle));
            let cosine = f64::from_bits(cosine.to_bits() ^ (angle << 63));
            let turned = angle & 2 != 0;
            let (x, y) = if turned {
                (sine, cosine)
            } else {
                (cosine, sine)
            };
            let length = (-2.0 * ln(above_zero(radius))).sqrt();
            self.normals[pair] = length * x;
            self.normals[PAIRS + pair] = length * y;
            self.uniforms[pair] = below_one(radius, UNIFORM_BITS);
            self.uniforms[PAIRS + pair] = below_one(angle >> 2, UNIFORM_BITS);
        }
        self.normals_used = 0;
    }
}

#[inline(always)]
fn words(generator: &mut ChaCha8Rng) -> [u64; STOCK] {
    let mut bytes = [0; STOCK * 8];
    generator.fill_bytes(&mut bytes);
    let mut words = [0; STOCK];
    for (word, bytes) in words.iter_mut().zip(bytes.as_chunks::<8>().0) {
        *word = u64::from_le_bytes(*bytes);
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the keystream of ChaCha8 for key and nonce 0 (Strombergson 2013, draft-strombergson-chacha-test-vectors-01,
    /// TC1, 256-bit key).
    #[test]
    fn words_are_those_of_the_published_keystream() {
        let mut generator = ChaCha8Rng::from_seed([0; 32]);
        let mut bytes = [0; 16];
        generator.fill_bytes(&mut bytes);
        let published = [
            0x3e, 0x00, 0xef, 0x2f, 0x89, 0x5f, 0x40, 0xd6, 0x7f, 0x5b, 0xb8, 0xe8, 0x1f, 0x09,
            0xa5, 0xa1,
        ];
        assert_eq!(bytes, published);
    }

    /// Two streams of a seed, and two seeds, have nothing in common.
    #[test]
    fn blocks_and_seeds_differ() {
        let first = |seed, block| Source::new(seed, block).candidates().0;
        assert_eq!(first(1, 0), first(1, 0));
        assert_ne!(first(1, 0), first(1, 1));
        assert_ne!(first(1, 0), first(2, 0));
    }

    /// Moments 0, 1, 0, 3 of the normals, each within five standard errors, the bits beside them even and unrelated; and no
    /// lane related to the one beside it, nor the two normals of a pair.
    #[test]
    fn normals_and_the_bits_beside_them() {
        const N: usize = 40_000;
        let mut source = Source::new(3, 0);
        let mut normals = Vec::new();
        let mut uniforms = Vec::new();
        for _ in 0..N {
            let (x, u) = source.candidates();
            normals.extend(x);
            uniforms.extend(u);
        }
        let n = normals.len() as f64;
        let mean = |f: &dyn Fn(usize) -> f64| (0..normals.len()).map(f).sum::<f64>() / n;
        for (power, expected, variance) in
            [(1, 0.0, 1.0), (2, 1.0, 2.0), (3, 0.0, 15.0), (4, 3.0, 96.0)]
        {
            let found = mean(&|i| normals[i].powi(power));
            let error = (variance / n).sqrt();
            assert!((found - expected).abs() < 5.0 * error, "{power}: {found}");
        }
        let centred = |i: usize| (uniforms[i] - 1023.0 / 2048.0) * 12_f64.sqrt();
        let error = 5.0 / n.sqrt();
        assert!(mean(&centred).abs() < error);
        assert!(mean(&|i| centred(i) * normals[i]).abs() < error);
        assert!(mean(&|i| centred(i) * (normals[i].powi(2) - 1.0) / 2_f64.sqrt()).abs() < error);
        for apart in [1, LANES, PAIRS] {
            let other = |i: usize| (i + apart) % normals.len();
            assert!(mean(&|i| normals[i] * normals[other(i)]).abs() < error);
            let squares = |i: usize| (normals[i].powi(2) - 1.0) / 2_f64.sqrt();
            assert!(mean(&|i| squares(i) * squares(other(i))).abs() < error);
            assert!(mean(&|i| centred(i) * centred(other(i))).abs() < error);
        }
    }

    #[test]
    fn exponentials() {
        const N: usize = 40_000;
        let mut source = Source::new(4, 0);
        let drawn: Vec<f64> = (0..N).flat_map(|_| source.exponentials()).collect();
        let n = drawn.len() as f64;
        // E[x^k] = k!, of variance (2k)! − k!².
        for (power, expected, variance) in [(1, 1.0, 1.0), (2, 2.0, 20.0), (3, 6.0, 684.0)] {
            let found = drawn.iter().map(|e| e.powi(power)).sum::<f64>() / n;
            let error = (variance / n).sqrt();
            assert!((found - expected).abs() < 5.0 * error, "{power}: {found}");
        }
        assert!(drawn.iter().all(|e| *e >= 0.0));
    }
}
