"""Which names of columns say who a patient is: such a column has no place beside a scenario."""

from __future__ import annotations

import re


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


# Words of a header, in small letters without accents: English, French, Portuguese and Spanish.
_PERSON = _words("""
    name names nom noms prenom prenoms nome nomes sobrenome apelido nombre nombres apellido apellidos surname
    forename firstname lastname fullname initials patient patients paciente pacientes person
    mother father parent guardian carer caregiver kin mere pere madre padre mae pai tutor
    address adresse direccion endereco morada street rue calle rua postcode
    phone phones telephone telefone telefono tel mobile cellphone celular email mail
    birth birthday birthdate born dob naissance nascimento nacimiento
    mrn passport identity identite identidade identidad
""")
_OF_A_THING = _words("""
    class group type category ward unit facility hospital department device drug file flow hours days count
    classe groupe service grupo clase servicio
""")  # beside which such a word names no person: ward name, patient class
_BOOKS = _words("hospital file folder record case chart register registration admission national card")
_NUMBERS = _words("number no nr num id numero")
_LONG = ("surname", "firstname", "lastname", "patient", "birth", "telephone", "phone")  # also within a word
_PLAIN = str.maketrans("àâäáãçèéêëìíîïñòóôöõùúûü", "aaaaaceeeeiiiinooooouuuu")


def person_word(name: str) -> str:
    """Return the word by which a name of a column says who a patient is, an empty text for any other."""
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name).lower().translate(_PLAIN)
    words = re.findall("[a-z]+", spaced)
    if _NUMBERS & set(words) and _BOOKS & set(words):
        return "number"
    if _OF_A_THING & set(words):
        return ""
    whole = next((word for word in words if word in _PERSON), "")
    return whole or next((word for word in _LONG if word in "".join(words)), "")
