//! The names that a type would take.

use super::Trouble;
use serde::de::{self, DeserializeOwned, Visitor};

/// The names of a struct's fields or of an enum's variants, as files write them.
pub fn names_of<T: DeserializeOwned>() -> &'static [&'static str] {
    let mut names: &'static [&'static str] = &[];
    // The reading always fails; what it asked for on the way is what is wanted.
    let _ = T::deserialize(Names { names: &mut names });
    names
}

/// Asks a type what names it would take, and reads nothing.
struct Names<'n> {
    names: &'n mut &'static [&'static str],
}

impl<'de> de::Deserializer<'de> for Names<'_> {
    type Error = Trouble;
    fn deserialize_any<V: Visitor<'de>>(self, _: V) -> Result<V::Value, Trouble> {
        Err(Trouble::Told)
    }
    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        names: &'static [&'static str],
        _: V,
    ) -> Result<V::Value, Trouble> {
        *self.names = names;
        Err(Trouble::Told)
    }
    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        names: &'static [&'static str],
        _: V,
    ) -> Result<V::Value, Trouble> {
        *self.names = names;
        Err(Trouble::Told)
    }
    serde::forward_to_deserialize_any! {
        bool i8 i16 i32 i64 u8 u16 u32 u64 f32 f64 char str string bytes byte_buf option unit unit_struct newtype_struct
        seq tuple tuple_struct map identifier ignored_any
    }
}
