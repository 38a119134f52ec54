//! What can be wrong with a symbol: the closed list of codes, and one fault.
//!
//! Codes of the data inside an element are those of the GS1 Barcode Syntax
//! Tests, in lower case; the rest are ours.

use crate::words::words;

words! {
    /// What is wrong, as one word of a closed list.
    FaultCode {
        Empty = "empty", "there is no data; send what the scanner sent";
        TooLong = "too_long", "the data is longer than any symbol on a packet; send one scan";
        UnknownSymbol = "unknown_symbol", "this is no GS1, HIBC or GTIN data; let the scanner send its symbology identifier, or send the bracketed form";
        UnknownIdentifier = "unknown_identifier", "this symbology identifier is not one a packet carries";
        BadGtin = "bad_gtin", "a GTIN of this symbol is digits of the right number";
        CompositePart = "unreadable_part", "the second part of a composite symbol does not begin with its identifier";
        NoPrimaryKey = "no_primary_key", "the address has no GS1 key in its path";
        BadAddress = "bad_address", "the address is not written as a GS1 Digital Link";
        BadQualifier = "bad_qualifier", "this may not follow the key in the path, or not in this order";
        NotAnAttribute = "not_an_attribute", "this belongs into the path and not into the query";
        DoubledAttribute = "doubled_attribute", "this stands twice in the query; once is enough";
        UnknownAi = "unknown_ai", "there is no application identifier of this number";
        BadBracket = "bad_bracket", "an application identifier stands in brackets, two to four digits";
        EmptyValue = "empty_value", "the element has no value";
        ValueTooShort = "value_too_short", "the value is shorter than the element's format";
        ValueTooLong = "value_too_long", "the value is longer than the element's format; a separator may be missing";
        DoubledSeparator = "doubled_separator", "two separators in a row";
        MissingCompanion = "missing_companion", "the element may not stand without its companions; scan the pack's other symbol too and send both, separated by a line break";
        ForbiddenCompanion = "forbidden_companion", "these two elements may not stand together";
        DifferentRepeat = "different_repeat", "the element stands twice with different values";
        MissingSerial = "missing_serial", "a digital signature needs a key with its serial part";
        NonDigit = "non_digit_character", "a digit is expected";
        Cset82 = "invalid_cset82_character", "the character is outside GS1 character set 82";
        Cset39 = "invalid_cset39_character", "the character is outside GS1 character set 39";
        Cset32 = "invalid_cset32_character", "the check pair holds a character outside GS1 character set 32";
        Cset64 = "invalid_cset64_character", "the character is outside GS1 character set 64";
        Cset64Padding = "invalid_cset64_padding", "the padding does not fit the length";
        CheckDigit = "incorrect_check_digit", "the check digit does not fit; scan again";
        CheckPair = "incorrect_check_pair", "the pair of check characters does not fit; scan again";
        CheckPairShort = "too_short_for_check_pair", "too short to hold a pair of check characters";
        KeyTooShort = "too_short_for_gcp", "too short to hold a company prefix of four digits";
        KeyPrefix = "invalid_gcp_prefix", "a company prefix is at least four digits";
        ImporterIndex = "invalid_import_idx_character", "the importer index is a letter, a digit, - or _";
        Zero = "illegal_zero_value", "zero is not allowed here";
        NotZero = "not_zero", "a zero is expected";
        ZeroPrefix = "illegal_zero_prefix", "a leading zero is not allowed";
        NotZeroOrOne = "not_zero_or_one", "0 or 1 is expected";
        Winding = "invalid_winding_direction", "0, 1 or 9 is expected";
        Country = "not_iso3166", "a country number of ISO 3166 is expected";
        CountryOr999 = "not_iso3166_or_999", "a country number of ISO 3166 or 999 is expected";
        CountryAlpha2 = "not_iso3166_alpha2", "a country code of two letters (ISO 3166) is expected";
        Currency = "not_iso4217", "a currency number of ISO 4217 is expected";
        IbanShort = "iban_too_short", "too short for an IBAN";
        IbanCharacter = "invalid_iban_character", "an IBAN holds digits and capital letters";
        IbanCountry = "illegal_iban_country_code", "an IBAN begins with a country code";
        IbanChecksum = "incorrect_iban_checksum", "the IBAN's check digits do not fit";
        Month = "illegal_month", "the month is 01 to 12";
        Day = "illegal_day", "this month has no such day";
        Hour = "illegal_hour", "the hour is 00 to 23";
        Minute = "illegal_minute", "the minute is 00 to 59";
        Second = "illegal_second", "the second is 00 to 59";
        PieceZero = "zero_piece_number", "the piece number is at least 1";
        PieceTotalZero = "zero_total_pieces", "the number of pieces is at least 1";
        PieceExceeds = "piece_number_exceeds_total", "the piece number exceeds the number of pieces";
        Percent = "invalid_percent_sequence", "after % stand two hexadecimal digits";
        Latitude = "invalid_latitude", "the latitude is 0000000000 to 1800000000";
        Longitude = "invalid_longitude", "the longitude is 0000000000 to 3600000000";
        MediaType = "invalid_media_type", "the carrier type is 01 to 10 or 80 to 99";
        PackageType = "invalid_package_type", "a package type is capital letters and digits";
        NotHyphen = "not_hyphen", "only a hyphen may stand here";
        Sex = "invalid_biological_sex_code", "0, 1, 2 or 9 is expected";
        SequenceMalformed = "position_in_sequence_malformed", "position and end are written n/n";
        SequenceExceeds = "position_exceeds_end", "the position exceeds the end";
        NeedsNonDigit = "requires_non_digit_character", "at least one letter is expected";
        HibcProvider = "hibc_provider", "this is HIBC provider data (a hospital's own), not a supplier's; scan the maker's symbol";
        HibcCharacter = "hibc_character", "HIBC data holds capital letters, digits and - . $ / + % and space";
        HibcLowerCase = "hibc_lower_case", "HIBC data has no lower case letters; switch off case conversion in the scanner";
        HibcStructure = "hibc_structure", "this part is not built as HIBC supplier data";
        HibcDate = "hibc_date", "the date does not exist";
        HibcCheck = "hibc_check", "the check character does not fit; scan again, and do not trim the data: a space may be the check";
        HibcCheckStripped = "hibc_check_stripped", "the reader took the check character away (Code 39 with check); let it send the check, so that it can be verified";
        HibcLink = "hibc_link", "the two symbols do not belong together: the link character is not the first symbol's check";
    }
}

/// One thing that is wrong with a symbol.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Where, as the number of characters before it in the data as sent.
    pub at: usize,
    /// What, as a code.
    pub code: FaultCode,
    /// What, for people, with the place named.
    pub message: String,
}

impl Fault {
    /// A fault about the data as such.
    pub(crate) fn new(at: usize, code: FaultCode) -> Self {
        Self { at, code, message: code.says().to_owned() }
    }

    /// A fault of one element, which is named.
    pub(crate) fn of(key: &str, at: usize, code: FaultCode) -> Self {
        Self { at, code, message: format!("({key}): {}", code.says()) }
    }

    /// A fault with more to say than its code.
    pub(crate) fn saying(at: usize, code: FaultCode, what: &str) -> Self {
        Self { at, code, message: format!("{}: {what}", code.says()) }
    }
}
