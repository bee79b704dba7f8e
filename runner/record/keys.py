"""The workshop's signing key (Ed25519, RFC 8032), and every public key it ever had.

    <data folder>/keys/workshop-key.pem         private, mode 0600; with a passphrase if one is set
                       public/3f2a-....pem       one public key each, never removed

Old public keys stay, so that jobs sealed with them can still be checked. Key files are PEM as in
RFC 8410 (PKCS #8 and SubjectPublicKeyInfo): standard tools read them.
"""

import hashlib
from dataclasses import dataclass
from pathlib import Path

from steplatch.safety.catalogue import _

from .disk import (
    FOLDER_MODE,
    NEW_FLAGS,
    Disk,
    fsync_folder,
    read_whole,
    replace_file,
    write_and_sync,
)
from .faults import NotRecordable, failed
from .lock import held

PRIVATE_NAME = "workshop-key.pem"
PUBLIC_FOLDER = "public"
SHORT_DIGITS = 16
MAX_KEY_BYTES = 16 * 1024


class NoKey(LookupError):  # noqa: N818 - it names the thing, as the other refusals do
    """No key has been made, or it cannot be opened; says what to do."""


def short_key(public_raw: bytes) -> str:
    """The first 16 hexadecimal digits of the SHA-256 of a raw public key, in fours."""
    digits = hashlib.sha256(public_raw).hexdigest()[:SHORT_DIGITS]
    return "-".join(digits[i : i + 4] for i in range(0, SHORT_DIGITS, 4))


@dataclass(frozen=True, slots=True)
class PublicKey:
    """A public key: its 32 bytes and its PEM text."""

    raw: bytes
    pem: bytes

    @property
    def short(self) -> str:
        """Its short form, for people to compare."""
        return short_key(self.raw)

    def verifies(self, signature: bytes, message: bytes) -> bool:
        """Whether ``signature`` (64 bytes) over ``message`` is by this key's private half."""
        from cryptography.exceptions import InvalidSignature
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

        try:
            Ed25519PublicKey.from_public_bytes(self.raw).verify(signature, message)
        except InvalidSignature:
            return False
        return True


def public_from_pem(pem: bytes) -> PublicKey:
    """Read a public key. Raises ValueError when it is no Ed25519 key in PEM, or more."""
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    from cryptography.hazmat.primitives.serialization import (
        Encoding,
        PublicFormat,
        load_pem_public_key,
    )

    try:
        key = load_pem_public_key(pem)
    except UnsupportedAlgorithm as error:
        raise ValueError(str(error)) from error
    if not isinstance(key, Ed25519PublicKey):
        raise ValueError(_("it is no Ed25519 key"))
    own = key.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)
    if own != pem:
        raise ValueError(_("more stands in the file than the key"))
    return PublicKey(key.public_bytes_raw(), pem)


class SigningKey:
    """A private key. Shows nothing of itself."""

    def __init__(self, raw: bytes) -> None:
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

        self._key = Ed25519PrivateKey.from_private_bytes(raw)

    def __repr__(self) -> str:
        return f"SigningKey(public {self.public.short})"

    @property
    def public(self) -> PublicKey:
        """Its public half."""
        from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

        half = self._key.public_key()
        pem = half.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)
        return PublicKey(half.public_bytes_raw(), pem)

    def sign(self, message: bytes) -> bytes:
        """The 64 bytes of the signature. The same message gives the same bytes."""
        return self._key.sign(message)

    def to_pem(self, passphrase: str | None) -> bytes:
        """The private key as PEM, under ``passphrase`` if one is given."""
        from cryptography.hazmat.primitives.serialization import (
            BestAvailableEncryption,
            Encoding,
            KeySerializationEncryption,
            NoEncryption,
            PrivateFormat,
        )

        how: KeySerializationEncryption = NoEncryption()
        if passphrase:
            how = BestAvailableEncryption(passphrase.encode())
        return self._key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, how)


class KeyFolder:
    """The keys of one data folder."""

    def __init__(self, path: Path, disk: Disk | None = None) -> None:
        self.path = path
        self._disk = disk or Disk()

    @property
    def private(self) -> Path:
        """The file of the private key."""
        return self.path / PRIVATE_NAME

    def make(self, seed: bytes, passphrase: str | None = None, again: bool = False) -> PublicKey:
        """Make a key from 32 random bytes that the caller drew.

        With ``again`` it takes the place of the key that is there; that one's public half stays.
        Raises NotRecordable when there is a key already, JournalFailed.
        """
        try:
            for folder in (self.path, self.path / PUBLIC_FOLDER):
                folder.mkdir(FOLDER_MODE, parents=True, exist_ok=True)
        except OSError as error:
            raise failed(self.path, _("keep the key"), error) from error
        with held(self._disk, self.path / "making", _("the making of a key")):
            return self._made(SigningKey(seed), passphrase, again)

    def _made(self, key: SigningKey, passphrase: str | None, again: bool) -> PublicKey:
        if self.private.exists() and not again:
            raise NotRecordable(
                str(self.private),
                _("there is a key already"),
                _("Keep it, or make a new one: --again"),
            )
        public = key.public
        try:
            kept = self.path / PUBLIC_FOLDER / f"{public.short}.pem"
            if not kept.exists():
                write_and_sync(self._disk, kept, NEW_FLAGS, public.pem)
            fsync_folder(self._disk, kept.parent)
            replace_file(self._disk, self.private, key.to_pem(passphrase))
        except OSError as error:
            raise failed(self.path, _("keep the key"), error) from error
        return public

    def is_there(self) -> bool:
        """Whether a key was made."""
        return self.private.exists()

    def locked(self) -> bool:
        """Whether the private key needs a passphrase. Raises NoKey."""
        return b"ENCRYPTED PRIVATE KEY" in self._read()

    def open(self, passphrase: str | None = None) -> SigningKey:
        """The private key. Raises NoKey: none there, wrong passphrase, or not a key."""
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
        from cryptography.hazmat.primitives.serialization import load_pem_private_key

        pem = self._read()
        try:
            key = load_pem_private_key(pem, passphrase.encode() if passphrase else None)
        except TypeError:
            wrong = _("it needs a passphrase") if not passphrase else _("it has no passphrase")
            raise NoKey(f"{self.private}: {wrong}.") from None
        except ValueError:
            raise NoKey(
                _(
                    "{private}: the passphrase is wrong, or the file is no key. Try again, "
                    "restore the file from a backup, or make a new key: steplatch key new "
                    "--again",
                    private=self.private,
                )
            ) from None
        if not isinstance(key, Ed25519PrivateKey):
            raise NoKey(
                _(
                    "{private}: it is no Ed25519 key. Make one: steplatch key new --again",
                    private=self.private,
                )
            )
        return SigningKey(key.private_bytes_raw())

    def public_keys(self) -> tuple[PublicKey, ...]:
        """Every public key this workshop had, by short form. A file that is no key raises NoKey."""
        found = []
        for path in sorted((self.path / PUBLIC_FOLDER).glob("*.pem")):
            try:
                found.append(public_from_pem(read_whole(self._disk, path, MAX_KEY_BYTES)))
            except (OSError, ValueError) as error:
                raise NoKey(
                    _(
                        "{path}: no public key ({error}). Restore it from a backup.",
                        path=path,
                        error=error,
                    )
                ) from None
        return tuple(found)

    def _read(self) -> bytes:
        try:
            return read_whole(self._disk, self.private, MAX_KEY_BYTES)
        except FileNotFoundError:
            raise NoKey(
                _("No signing key has been made in this data folder. Make one: steplatch key new")
            ) from None
        except OSError as error:
            raise NoKey(
                _(
                    "{private}: cannot be read ({strerror}).",
                    private=self.private,
                    strerror=error.strerror,
                )
            ) from None
