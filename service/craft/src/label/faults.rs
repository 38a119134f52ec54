//! What can be wrong with a symbol: the closed list of codes, and one fault.
//!
//! Codes of the data inside an element are those of the GS1 Barcode Syntax
//! Tests, in lower case; the rest are ours.

use std::sync::Arc;

use crate::text::Voice;
use crate::words::words;

words! {
    /// What is wrong, as one word of a closed list.
    FaultCode {
        /// There is no data.
        Empty = "empty",
        /// The data is longer than any symbol on a packet.
        TooLong = "too_long",
        /// This is no GS1, HIBC or GTIN data.
        UnknownSymbol = "unknown_symbol",
        /// This symbology identifier is not one a packet carries.
        UnknownIdentifier = "unknown_identifier",
        /// A GTIN of this symbol is digits of the right number.
        BadGtin = "bad_gtin",
        /// The second part of a composite symbol does not begin with its identifier.
        CompositePart = "unreadable_part",
        /// The address has no GS1 key in its path.
        NoPrimaryKey = "no_primary_key",
        /// The address is not written as a GS1 Digital Link.
        BadAddress = "bad_address",
        /// This may not follow the key in the path, or not in this order.
        BadQualifier = "bad_qualifier",
        /// This belongs into the path and not into the query.
        NotAnAttribute = "not_an_attribute",
        /// This stands twice in the query.
        DoubledAttribute = "doubled_attribute",
        /// There is no application identifier of this number.
        UnknownAi = "unknown_ai",
        /// An application identifier stands in brackets, two to four digits.
        BadBracket = "bad_bracket",
        /// The element has no value.
        EmptyValue = "empty_value",
        /// The value is shorter than the element's format.
        ValueTooShort = "value_too_short",
        /// The value is longer than the element's format.
        ValueTooLong = "value_too_long",
        /// Two separators in a row.
        DoubledSeparator = "doubled_separator",
        /// The element may not stand without its companions.
        MissingCompanion = "missing_companion",
        /// These two elements may not stand together.
        ForbiddenCompanion = "forbidden_companion",
        /// The element stands twice with different values.
        DifferentRepeat = "different_repeat",
        /// A digital signature needs a key with its serial part.
        MissingSerial = "missing_serial",
        /// A digit is expected.
        NonDigit = "non_digit_character",
        /// The character is outside GS1 character set 82.
        Cset82 = "invalid_cset82_character",
        /// The character is outside GS1 character set 39.
        Cset39 = "invalid_cset39_character",
        /// The check pair holds a character outside GS1 character set 32.
        Cset32 = "invalid_cset32_character",
        /// The character is outside GS1 character set 64.
        Cset64 = "invalid_cset64_character",
        /// The padding does not fit the length.
        Cset64Padding = "invalid_cset64_padding",
        /// The check digit does not fit.
        CheckDigit = "incorrect_check_digit",
        /// The pair of check characters does not fit.
        CheckPair = "incorrect_check_pair",
        /// Too short to hold a pair of check characters.
        CheckPairShort = "too_short_for_check_pair",
        /// Too short to hold a company prefix of four digits.
        KeyTooShort = "too_short_for_gcp",
        /// A company prefix is at least four digits.
        KeyPrefix = "invalid_gcp_prefix",
        /// The importer index is a letter, a digit, - or _.
        ImporterIndex = "invalid_import_idx_character",
        /// Zero is not allowed here.
        Zero = "illegal_zero_value",
        /// A zero is expected.
        NotZero = "not_zero",
        /// A leading zero is not allowed.
        ZeroPrefix = "illegal_zero_prefix",
        /// 0 or 1 is expected.
        NotZeroOrOne = "not_zero_or_one",
        /// 0, 1 or 9 is expected.
        Winding = "invalid_winding_direction",
        /// A country number of ISO 3166 is expected.
        Country = "not_iso3166",
        /// A country number of ISO 3166 or 999 is expected.
        CountryOr999 = "not_iso3166_or_999",
        /// A country code of two letters (ISO 3166) is expected.
        CountryAlpha2 = "not_iso3166_alpha2",
        /// A currency number of ISO 4217 is expected.
        Currency = "not_iso4217",
        /// Too short for an IBAN.
        IbanShort = "iban_too_short",
        /// An IBAN holds digits and capital letters.
        IbanCharacter = "invalid_iban_character",
        /// An IBAN begins with a country code.
        IbanCountry = "illegal_iban_country_code",
        /// The IBAN's check digits do not fit.
        IbanChecksum = "incorrect_iban_checksum",
        /// The month is 01 to 12.
        Month = "illegal_month",
        /// This month has no such day.
        Day = "illegal_day",
        /// The hour is 00 to 23.
        Hour = "illegal_hour",
        /// The minute is 00 to 59.
        Minute = "illegal_minute",
        /// The second is 00 to 59.
        Second = "illegal_second",
        /// The piece number is at least 1.
        PieceZero = "zero_piece_number",
        /// The number of pieces is at least 1.
        PieceTotalZero = "zero_total_pieces",
        /// The piece number exceeds the number of pieces.
        PieceExceeds = "piece_number_exceeds_total",
        /// After % stand two hexadecimal digits.
        Percent = "invalid_percent_sequence",
        /// The latitude is 0000000000 to 1800000000.
        Latitude = "invalid_latitude",
        /// The longitude is 0000000000 to 3600000000.
        Longitude = "invalid_longitude",
        /// The carrier type is 01 to 10 or 80 to 99.
        MediaType = "invalid_media_type",
        /// A package type is capital letters and digits.
        PackageType = "invalid_package_type",
        /// Only a hyphen may stand here.
        NotHyphen = "not_hyphen",
        /// 0, 1, 2 or 9 is expected.
        Sex = "invalid_biological_sex_code",
        /// Position and end are written n/n.
        SequenceMalformed = "position_in_sequence_malformed",
        /// The position exceeds the end.
        SequenceExceeds = "position_exceeds_end",
        /// At least one letter is expected.
        NeedsNonDigit = "requires_non_digit_character",
        /// This is HIBC provider data (a hospital's own), not a supplier's.
        HibcProvider = "hibc_provider",
        /// HIBC data holds capital letters, digits and - . $ / + % and space.
        HibcCharacter = "hibc_character",
        /// HIBC data has no lower case letters.
        HibcLowerCase = "hibc_lower_case",
        /// This part is not built as HIBC supplier data.
        HibcStructure = "hibc_structure",
        /// The date does not exist.
        HibcDate = "hibc_date",
        /// The check character does not fit.
        HibcCheck = "hibc_check",
        /// The reader took the check character away (Code 39 with check).
        HibcCheckStripped = "hibc_check_stripped",
        /// The two symbols do not belong together: the link character is not the first symbol's check.
        HibcLink = "hibc_link",
    }
}

/// One thing that is wrong with a symbol.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Where, as the number of characters before it in the data as sent.
    pub at: usize,
    /// What, as a code.
    pub code: FaultCode,
    /// The element that it is about.
    key: Option<Arc<str>>,
    /// The data, numbers and elements that belong to it.
    more: Option<String>,
}

impl Fault {
    /// A fault about the data as such.
    pub(crate) const fn new(at: usize, code: FaultCode) -> Self {
        Self { at, code, key: None, more: None }
    }

    /// A fault of one element, which is named.
    pub(crate) fn of(key: &str, at: usize, code: FaultCode) -> Self {
        Self { key: Some(key.into()), ..Self::new(at, code) }
    }

    /// A fault with more to show than its code: no words of a language.
    pub(crate) fn with(at: usize, code: FaultCode, more: String) -> Self {
        Self { more: Some(more), ..Self::new(at, code) }
    }

    /// What, for people, with the place named.
    #[must_use]
    pub fn says(&self, voice: Voice<'_>) -> String {
        let text = voice.fill(&fault_key(self.code), &[]);
        match (&self.key, &self.more) {
            (Some(key), _) => format!("({key}): {text}"),
            (None, Some(more)) => format!("{text}: {more}"),
            (None, None) => text,
        }
    }
}

/// The key of what a code means.
pub(crate) fn fault_key(code: FaultCode) -> String {
    format!("symbol.{code}")
}
