//! The exponents that make up a unit, finer than those of the SI.
//!
//! Energy and pressure are slots of their own here. In the SI a joule per cubic metre *is* a pascal and a
//! vapour permeability *is* a second; on a building site they are different things, and mixing them up is a
//! mistake worth a message. Exponents are kept doubled, so that `s^0.5` is a whole number.

/// One kind of base unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Slot {
    Length,
    Mass,
    Time,
    /// Temperature difference.
    Temperature,
    Energy,
    Pressure,
    Money,
    Person,
    /// "Per year", which in this trade marks an annual sum and is not a time to divide by.
    Year,
    /// Parts per million.
    Parts,
    Angle,
}

const SLOTS: usize = 11;

/// Doubled exponents by [`Slot`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Signature([i8; SLOTS]);

impl Signature {
    /// A plain number.
    pub(crate) const NONE: Self = Self([0; SLOTS]);

    /// Makes a signature from whole exponents.
    pub(crate) const fn of(pairs: &[(Slot, i8)]) -> Self {
        let mut out = [0; SLOTS];
        let mut i = 0;
        while i < pairs.len() {
            out[pairs[i].0 as usize] += 2 * pairs[i].1;
            i += 1;
        }
        Self(out)
    }

    /// Adds half an exponent, for `√s`.
    pub(crate) const fn with_half(mut self, slot: Slot, halves: i8) -> Self {
        self.0[slot as usize] += halves;
        self
    }

    /// Returns the doubled exponent of a slot.
    pub(crate) const fn halves(self, slot: Slot) -> i8 {
        self.0[slot as usize]
    }

    /// Returns the signature with one slot cleared.
    pub(crate) const fn without(mut self, slot: Slot) -> Self {
        self.0[slot as usize] = 0;
        self
    }

    /// Raises `other` to `halves / 2` and multiplies it in; `None` if an exponent leaves the sensible range.
    pub(crate) fn times(self, other: Self, halves: i32) -> Option<Self> {
        let mut out = self.0;
        for (slot, value) in out.iter_mut().zip(other.0) {
            let twice = i32::from(value).checked_mul(halves)?;
            if twice % 2 != 0 {
                return None;
            }
            let sum = i32::from(*slot) + twice / 2;
            *slot = i8::try_from(sum).ok().filter(|v| v.abs() <= 24)?;
        }
        Some(Self(out))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_powers_multiply_to_whole_ones() {
        let time = Signature::of(&[(Slot::Time, 1)]);
        let root = Signature::NONE.times(time, 1).unwrap();
        assert_eq!(root.halves(Slot::Time), 1);
        assert_eq!(root.times(root, 2), Some(Signature::NONE.with_half(Slot::Time, 2)));
        assert_eq!(Signature::NONE.times(root, 1), None, "quarter powers are not units");
        assert_eq!(Signature::NONE.times(time, 1000), None);
    }
}
