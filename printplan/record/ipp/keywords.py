"""Which numbers and words does the Internet Printing Protocol use?"""

from __future__ import annotations

from enum import IntEnum, StrEnum


class _Code(IntEnum):
    """A number that the protocol also has a word for."""

    @property
    def word(self) -> str:
        """The protocol's own word."""
        return self.name.lower().replace("_", "-")


class GroupTag(_Code):
    """What a group of attributes belongs to (RFC 8010, 3.5.1)."""

    OPERATION_ATTRIBUTES = 0x01
    JOB_ATTRIBUTES = 0x02
    END_OF_ATTRIBUTES = 0x03
    PRINTER_ATTRIBUTES = 0x04
    UNSUPPORTED_ATTRIBUTES = 0x05


LAST_GROUP_TAG = 0x0F
"""Tags above it are those of values (RFC 8010, 3.5)."""


class ValueTag(_Code):
    """Syntax of a value (RFC 8010, 3.5.2)."""

    UNSUPPORTED = 0x10
    UNKNOWN = 0x12
    NO_VALUE = 0x13
    INTEGER = 0x21
    BOOLEAN = 0x22
    ENUM = 0x23
    OCTET_STRING = 0x30
    DATE_TIME = 0x31
    RESOLUTION = 0x32
    RANGE_OF_INTEGER = 0x33
    BEGIN_COLLECTION = 0x34
    TEXT_WITH_LANGUAGE = 0x35
    NAME_WITH_LANGUAGE = 0x36
    END_COLLECTION = 0x37
    TEXT_WITHOUT_LANGUAGE = 0x41
    NAME_WITHOUT_LANGUAGE = 0x42
    KEYWORD = 0x44
    URI = 0x45
    URI_SCHEME = 0x46
    CHARSET = 0x47
    NATURAL_LANGUAGE = 0x48
    MIME_MEDIA_TYPE = 0x49
    MEMBER_ATTR_NAME = 0x4A


# RFC 8011, 5.1: octets that a value of each syntax may have.
LONGEST_OCTETS = {
    ValueTag.TEXT_WITHOUT_LANGUAGE: 1023,
    ValueTag.NAME_WITHOUT_LANGUAGE: 255,
    ValueTag.KEYWORD: 255,
    ValueTag.URI: 1023,
    ValueTag.URI_SCHEME: 63,
    ValueTag.CHARSET: 63,
    ValueTag.NATURAL_LANGUAGE: 63,
    ValueTag.MIME_MEDIA_TYPE: 255,
    ValueTag.MEMBER_ATTR_NAME: 255,
}

OUT_OF_BAND = frozenset({ValueTag.UNSUPPORTED, ValueTag.UNKNOWN, ValueTag.NO_VALUE})
"""Syntaxes of a value that is missing by intent (RFC 8010, 3.8)."""

NUMBERS = frozenset({ValueTag.INTEGER, ValueTag.ENUM})
"""Syntaxes of one whole number of 32 bits."""

LOCALISED = frozenset({ValueTag.TEXT_WITH_LANGUAGE, ValueTag.NAME_WITH_LANGUAGE})
"""Syntaxes of words that name their language."""


class Operation(_Code):
    """What a printer is asked to do (RFC 8011, 5.4.15)."""

    PRINT_JOB = 0x0002
    VALIDATE_JOB = 0x0004
    GET_JOB_ATTRIBUTES = 0x0009
    GET_PRINTER_ATTRIBUTES = 0x000B


class Status(_Code):
    """What a printer answers (RFC 8011, appendix B.1)."""

    SUCCESSFUL_OK = 0x0000
    SUCCESSFUL_OK_IGNORED_OR_SUBSTITUTED_ATTRIBUTES = 0x0001
    SUCCESSFUL_OK_CONFLICTING_ATTRIBUTES = 0x0002
    CLIENT_ERROR_BAD_REQUEST = 0x0400
    CLIENT_ERROR_FORBIDDEN = 0x0401
    CLIENT_ERROR_NOT_AUTHENTICATED = 0x0402
    CLIENT_ERROR_NOT_AUTHORIZED = 0x0403
    CLIENT_ERROR_NOT_POSSIBLE = 0x0404
    CLIENT_ERROR_TIMEOUT = 0x0405
    CLIENT_ERROR_NOT_FOUND = 0x0406
    CLIENT_ERROR_GONE = 0x0407
    CLIENT_ERROR_REQUEST_ENTITY_TOO_LARGE = 0x0408
    CLIENT_ERROR_REQUEST_VALUE_TOO_LONG = 0x0409
    CLIENT_ERROR_DOCUMENT_FORMAT_NOT_SUPPORTED = 0x040A
    CLIENT_ERROR_ATTRIBUTES_OR_VALUES_NOT_SUPPORTED = 0x040B
    CLIENT_ERROR_URI_SCHEME_NOT_SUPPORTED = 0x040C
    CLIENT_ERROR_CHARSET_NOT_SUPPORTED = 0x040D
    CLIENT_ERROR_CONFLICTING_ATTRIBUTES = 0x040E
    CLIENT_ERROR_COMPRESSION_NOT_SUPPORTED = 0x040F
    CLIENT_ERROR_COMPRESSION_ERROR = 0x0410
    CLIENT_ERROR_DOCUMENT_FORMAT_ERROR = 0x0411
    CLIENT_ERROR_DOCUMENT_ACCESS_ERROR = 0x0412
    SERVER_ERROR_INTERNAL_ERROR = 0x0500
    SERVER_ERROR_OPERATION_NOT_SUPPORTED = 0x0501
    SERVER_ERROR_SERVICE_UNAVAILABLE = 0x0502
    SERVER_ERROR_VERSION_NOT_SUPPORTED = 0x0503
    SERVER_ERROR_DEVICE_ERROR = 0x0504
    SERVER_ERROR_TEMPORARY_ERROR = 0x0505
    SERVER_ERROR_NOT_ACCEPTING_JOBS = 0x0506
    SERVER_ERROR_BUSY = 0x0507
    SERVER_ERROR_JOB_CANCELED = 0x0508
    SERVER_ERROR_MULTIPLE_DOCUMENT_JOBS_NOT_SUPPORTED = 0x0509
    SERVER_ERROR_PRINTER_IS_DEACTIVATED = 0x050A


LAST_SUCCESS = 0x00FF
"""Last code that tells of success (RFC 8011, 4.1.6.1)."""


class JobState(_Code):
    """How far a job is (RFC 8011, 5.3.7)."""

    PENDING = 3
    PENDING_HELD = 4
    PROCESSING = 5
    PROCESSING_STOPPED = 6
    CANCELED = 7
    ABORTED = 8
    COMPLETED = 9


class OrientationRequested(_Code):
    """How the page goes onto the medium (RFC 8011, 5.2.10)."""

    PORTRAIT = 3
    LANDSCAPE = 4


class PrintQuality(_Code):
    """Speed against fineness (RFC 8011, 5.2.13)."""

    DRAFT = 3
    NORMAL = 4
    HIGH = 5


class ResolutionUnit(_Code):
    """Length that a resolution counts along (RFC 8010, 3.9)."""

    DPI = 3
    DPCM = 4


class PrintRenderingIntent(StrEnum):
    """Rendering intent that the printer is to use (PWG 5100.13)."""

    AUTO = "auto"
    ABSOLUTE = "absolute"
    PERCEPTUAL = "perceptual"
    RELATIVE = "relative"
    RELATIVE_BPC = "relative-bpc"
    SATURATION = "saturation"


def word_of(kind: type[_Code], code: int) -> str:
    """
    The protocol's word for a number.

    Parameters
    ----------
    kind : type
        `Status`, `JobState` and the like.

    Returns
    -------
    str
        The number itself if it has no word here.

    Examples
    --------
    >>> word_of(Status, 0x040A)
    'client-error-document-format-not-supported'
    >>> word_of(Status, 0x04F0)
    'status 0x04f0'
    """
    words = {member.value: member.word for member in kind}
    return words.get(code, f"{kind.__name__.lower()} 0x{code:04x}")
