"""Foliage: what kind of leaves does a genus bear, as far as it matters to a brush?

Soap and brush take longest between needles, less among scale leaves pressed to the twig, least on broad leaves. In:
genus and species as they are written; out: the kind, or NOT_SAID for a genus that is not in the table. Never an error:
a person may say otherwise for each tree, and what they say holds. Source: common knowledge of the plants, from memory.

>>> of("Pinus", "mugo"), of("Juniperus", "chinensis"), of("Juniperus", "rigida"), of("Acer"), of("Welwitschia")
(<Foliage.NEEDLES: 'needles'>, <Foliage.SCALES: 'scales'>, <Foliage.NEEDLES: 'needles'>, <Foliage.BROAD: 'broad'>, \
<Foliage.NOT_SAID: ''>)
"""

from enum import StrEnum


class Foliage(StrEnum):
    NEEDLES = "needles"
    SCALES = "scales"
    BROAD = "broad"
    NOT_SAID = ""


WORDS: dict[Foliage, str] = {
    Foliage.NEEDLES: "needles",
    Foliage.SCALES: "scale leaves",
    Foliage.BROAD: "broad leaves",
    Foliage.NOT_SAID: "foliage not said",
}
BEARS: dict[Foliage, str] = {
    Foliage.NEEDLES: "Abies Cedrus Cryptomeria Larix Picea Pinus Pseudolarix Sciadopitys Sequoia Taxodium Taxus Tsuga",
    Foliage.SCALES: "Calocedrus Chamaecyparis Cupressus Juniperus Platycladus Tamarix Thuja Thujopsis",
    Foliage.BROAD: (
        "Acer Azalea Berberis Betula Buxus Camellia Carpinus Celtis Chaenomeles Citrus Cornus Cotoneaster Crataegus "
        "Elaeagnus Euonymus Fagus Ficus Forsythia Fraxinus Gardenia Ginkgo Hedera Ilex Lagerstroemia Laurus Ligustrum "
        "Lonicera Malus Morus Myrtus Olea Pistacia Portulacaria Potentilla Prunus Punica Pyracantha Pyrus Quercus "
        "Rhododendron Rosmarinus Salix Sageretia Serissa Syringa Tilia Ulmus Viburnum Wisteria Zelkova"
    ),
}
OF_GENUS = {genus: kind for kind, genera in BEARS.items() for genus in genera.split()}
# Junipers that keep the needles of their youth for life.
OF_SPECIES = {
    ("Juniperus", species): Foliage.NEEDLES
    for species in ("communis", "conferta", "procumbens", "rigida", "squamata")
}


def of(genus: str, species: str = "") -> Foliage:
    """The kind of leaves that the genus bears, the species where it is known to differ.

    >>> of("pinus "), of("")
    (<Foliage.NEEDLES: 'needles'>, <Foliage.NOT_SAID: ''>)
    """
    genus, species = genus.strip().capitalize(), species.strip().lower()
    return OF_SPECIES.get((genus, species)) or OF_GENUS.get(genus, Foliage.NOT_SAID)
