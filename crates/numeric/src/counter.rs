//! Random numbers found by name: a stated value's id and a sample's index give its number, whatever else is
//! drawn.
//!
//! Start at [`Stream`]. The generator is Philox 2×64 with ten rounds: a counter turned into random bits by a
//! keyed mixing of multiplications, with no state to carry, so that adding one more uncertain value changes
//! no other.
//!
//! # Source
//! J. K. Salmon and others, Parallel random numbers: as easy as 1, 2, 3 (2011). Constants and the known
//! answers in the tests are recalled; that they fit one another shows that both are right.

/// Returns the 64-bit FNV-1a hash of some bytes: stable for ever, for ids and seeds (not against attackers).
pub fn hash_bytes(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xCBF2_9CE4_8422_2325, |h, b| (h ^ u64::from(*b)).wrapping_mul(0x0000_0100_0000_01B3))
}

/// Returns the stable hash of a text's UTF-8 bytes.
pub fn hash(text: &str) -> u64 {
    hash_bytes(text.as_bytes())
}

/// Returns a thorough mixing of 64 bits, one to one (the finaliser of SplitMix64).
pub fn mix(x: u64) -> u64 {
    let x = x.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let x = (x ^ (x >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let x = (x ^ (x >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    x ^ (x >> 31)
}

/// Returns 128 random bits for a counter and a key: Philox 2×64, ten rounds.
pub fn philox2x64(counter: [u64; 2], key: u64) -> [u64; 2] {
    const MULTIPLIER: u128 = 0xD2B7_4407_B1CE_6E93;
    const WEYL: u64 = 0x9E37_79B9_7F4A_7C15;
    let [mut a, mut b] = counter;
    let mut key = key;
    for _ in 0..10 {
        let product = u128::from(a) * MULTIPLIER;
        (a, b) = ((product >> 64) as u64 ^ key ^ b, product as u64);
        key = key.wrapping_add(WEYL);
    }
    [a, b]
}

/// The random numbers of one id under one seed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stream {
    key: u64,
    id: u64,
}

impl Stream {
    /// The numbers of a named value.
    pub fn new(seed: u64, id: &str) -> Self {
        Self::keyed(seed, hash(id))
    }

    /// The numbers of a value whose id is already a number.
    pub fn keyed(seed: u64, id: u64) -> Self {
        Self { key: mix(seed), id }
    }

    /// Returns 64 random bits.
    pub fn bits(self, index: u64) -> u64 {
        philox2x64([index, self.id], self.key)[0]
    }

    /// Returns a number inside (0, 1): (k + ½)/2⁵², never 0 or 1.
    pub fn uniform(self, index: u64) -> f64 {
        ((self.bits(index) >> 12) as f64 + 0.5) / 4_503_599_627_370_496.0
    }

    /// Returns a standard normal number, by quantile.
    pub fn normal(self, index: u64) -> f64 {
        crate::normal::quantile(self.uniform(index))
    }

    /// Returns a whole number in `0..n`, for `n` far below 2^64 (bias below n/2^64); 0 for `n = 0`.
    pub fn below(self, index: u64, n: u64) -> u64 {
        ((u128::from(self.bits(index)) * u128::from(n)) >> 64) as u64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Known answers of the generator's authors, recalled.
    #[test]
    fn philox_known_answers() {
        let all = u64::MAX;
        assert_eq!(philox2x64([0, 0], 0), [0xca00_a045_9843_d731, 0x66c2_4222_c9a8_45b5]);
        assert_eq!(philox2x64([all, all], all), [0x65b0_21d6_0cd8_310f, 0x4d02_f322_2f86_df20]);
        let pi = [0x243f_6a88_85a3_08d3, 0x1319_8a2e_0370_7344];
        assert_eq!(philox2x64(pi, 0xa409_3822_299f_31d0), [0x0a5e_742c_2997_341c, 0xb0f8_83d3_8000_de5d]);
    }

    /// FNV-1a test values of its authors, recalled.
    #[test]
    fn hash_known_answers() {
        assert_eq!(hash(""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(hash("a"), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(hash("foobar"), 0x8594_4171_f739_67e8);
    }

    /// χ² over 256 cells for 65 536 numbers, for several ids: 255 degrees, sd 22.6.
    #[test]
    fn numbers_are_evenly_spread() {
        for id in ["assembly.wall.layer[1].conductivity", "assembly.wall.layer[2].conductivity", "a", "b", ""]
        {
            let stream = Stream::new(1, id);
            let mut count = [0_u32; 256];
            let mut sum = 0.0;
            for i in 0..65_536 {
                let u = stream.uniform(i);
                assert!(u > 0.0 && u < 1.0);
                count[(u * 256.0) as usize] += 1;
                sum += u;
            }
            let chi2: f64 =
                count.iter().map(|c| (f64::from(*c) - 256.0) * (f64::from(*c) - 256.0) / 256.0).sum();
            assert!((chi2 - 255.0).abs() < 5.0 * 22.6, "{id}: {chi2}");
            assert!((sum / 65_536.0 - 0.5).abs() < 5.0 * 0.2887 / 256.0, "{id}");
        }
    }

    type Pair = fn(u64) -> (f64, f64);

    /// Neighbouring indices, ids and seeds: the pairs must fill the square evenly too.
    #[test]
    fn neighbours_are_unlike() {
        let pairs: [(&str, Pair); 3] = [
            ("index", |i| (Stream::new(1, "x").uniform(i), Stream::new(1, "x").uniform(i + 1))),
            ("id", |i| (Stream::keyed(1, 5).uniform(i), Stream::keyed(1, 6).uniform(i))),
            ("seed", |i| (Stream::new(1, "x").uniform(i), Stream::new(2, "x").uniform(i))),
        ];
        for (what, pair) in pairs {
            let mut count = [0_u32; 256];
            for i in 0..65_536 {
                let (u, v) = pair(i);
                count[(u * 16.0) as usize * 16 + (v * 16.0) as usize] += 1;
            }
            let chi2: f64 =
                count.iter().map(|c| (f64::from(*c) - 256.0) * (f64::from(*c) - 256.0) / 256.0).sum();
            assert!((chi2 - 255.0).abs() < 5.0 * 22.6, "{what}: {chi2}");
        }
    }

    #[test]
    fn whole_numbers_stay_below() {
        let stream = Stream::new(5, "dice");
        assert!((0..1000).all(|i| stream.below(i, 6) < 6));
        assert_eq!(stream.below(0, 0), 0);
    }
}
