//! Values made up for what could not be read, so that reading goes on behind it.

use super::Trouble;
use serde::de::{self, DeserializeSeed, IntoDeserializer, Visitor};

/// Texts to make up where one is needed: some types only take a quantity, a date or a name.
pub(super) const MADE_UP: [&str; 5] = ["", "0 s", "0 mg", "0 mg/h", "aorta"];
/// After this many tries a value cannot be made up.
pub(super) const TRIES: u8 = MADE_UP.len() as u8;

/// Makes up a value of any type: zeros, empty lists, first variants.
#[derive(Clone, Copy)]
pub(super) struct MakeUp {
    pub tries: u8,
    pub depth: u8,
}

impl MakeUp {
    fn deeper(self) -> Result<Self, Trouble> {
        if self.depth > 24 { Err(Trouble::Told) } else { Ok(Self { depth: self.depth + 1, ..self }) }
    }
}

struct MakeUpAll {
    how: MakeUp,
    left: usize,
    names: std::slice::Iter<'static, &'static str>,
}

impl<'de> de::SeqAccess<'de> for MakeUpAll {
    type Error = Trouble;
    fn next_element_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<Option<S::Value>, Trouble> {
        if self.left == 0 {
            return Ok(None);
        }
        self.left -= 1;
        seed.deserialize(self.how).map(Some)
    }
}

impl<'de> de::MapAccess<'de> for MakeUpAll {
    type Error = Trouble;
    fn next_key_seed<K: DeserializeSeed<'de>>(&mut self, seed: K) -> Result<Option<K::Value>, Trouble> {
        self.names.next().map(|name| seed.deserialize((*name).into_deserializer())).transpose()
    }
    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, Trouble> {
        seed.deserialize(self.how)
    }
}

impl<'de> de::EnumAccess<'de> for MakeUpAll {
    type Error = Trouble;
    type Variant = MakeUp;
    fn variant_seed<V: DeserializeSeed<'de>>(mut self, seed: V) -> Result<(V::Value, MakeUp), Trouble> {
        let name = self.names.next().ok_or(Trouble::Told)?;
        Ok((seed.deserialize((*name).into_deserializer())?, self.how))
    }
}

impl<'de> de::VariantAccess<'de> for MakeUp {
    type Error = Trouble;
    fn unit_variant(self) -> Result<(), Trouble> {
        Ok(())
    }
    fn newtype_variant_seed<T: DeserializeSeed<'de>>(self, seed: T) -> Result<T::Value, Trouble> {
        seed.deserialize(self)
    }
    fn tuple_variant<V: Visitor<'de>>(self, length: usize, visitor: V) -> Result<V::Value, Trouble> {
        visitor.visit_seq(MakeUpAll { how: self, left: length, names: [].iter() })
    }
    fn struct_variant<V: Visitor<'de>>(
        self,
        names: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Trouble> {
        visitor.visit_map(MakeUpAll { how: self, left: 0, names: names.iter() })
    }
}

macro_rules! zeros {
    ($($method:ident $visit:ident $zero:expr),*) => {$(
        fn $method<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
            visitor.$visit($zero)
        }
    )*};
}

impl<'de> de::Deserializer<'de> for MakeUp {
    type Error = Trouble;

    zeros!(
        deserialize_bool visit_bool false, deserialize_u8 visit_u8 0, deserialize_u16 visit_u16 0,
        deserialize_u32 visit_u32 0, deserialize_u64 visit_u64 0, deserialize_i8 visit_i8 0,
        deserialize_i16 visit_i16 0, deserialize_i32 visit_i32 0, deserialize_i64 visit_i64 0,
        deserialize_f32 visit_f32 0.0, deserialize_f64 visit_f64 0.0, deserialize_char visit_char 'a',
        deserialize_bytes visit_bytes &[], deserialize_byte_buf visit_bytes &[]
    );

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        visitor.visit_unit()
    }
    fn deserialize_str<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        visitor.visit_str(MADE_UP.get(usize::from(self.tries)).copied().unwrap_or_default())
    }
    fn deserialize_string<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        self.deserialize_str(visitor)
    }
    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        visitor.visit_none()
    }
    fn deserialize_unit<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        visitor.visit_unit()
    }
    fn deserialize_unit_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, Trouble> {
        visitor.visit_unit()
    }
    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, Trouble> {
        visitor.visit_newtype_struct(self.deeper()?)
    }
    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        visitor.visit_seq(MakeUpAll { how: self, left: 0, names: [].iter() })
    }
    fn deserialize_tuple<V: Visitor<'de>>(self, length: usize, visitor: V) -> Result<V::Value, Trouble> {
        visitor.visit_seq(MakeUpAll { how: self.deeper()?, left: length, names: [].iter() })
    }
    fn deserialize_tuple_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        length: usize,
        visitor: V,
    ) -> Result<V::Value, Trouble> {
        self.deserialize_tuple(length, visitor)
    }
    fn deserialize_map<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        visitor.visit_map(MakeUpAll { how: self, left: 0, names: [].iter() })
    }
    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        names: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Trouble> {
        visitor.visit_map(MakeUpAll { how: self.deeper()?, left: 0, names: names.iter() })
    }
    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Trouble> {
        visitor.visit_enum(MakeUpAll { how: self.deeper()?, left: 0, names: variants.iter() })
    }
    fn deserialize_identifier<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        visitor.visit_str("")
    }
    fn deserialize_ignored_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Trouble> {
        visitor.visit_unit()
    }
}
