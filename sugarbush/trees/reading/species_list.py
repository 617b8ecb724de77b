# ruff: noqa: E501 - a table reads best with one kind a line
"""The street trees a northern town lists, as one table.

Columns: botanical | common | other common names | PLANTS symbol | mark

The PLANTS symbols are those of the USDA PLANTS Database. The ones checked against a published table are
listed in tests/trees/reading/test_species.py; the others are from memory. The eight maples marked "tap"
and the look-alikes marked "alike" are the programme's own choice, no source.
"""

SPECIES_TABLE = """
Acer saccharum | sugar maple | hard maple; rock maple; green mountain sugar maple; legacy sugar maple; érable à sucre; Zuckerahorn; Zucker-Ahorn | ACSA3 | tap
Acer nigrum | black maple | black sugar maple; érable noir; Schwarzahorn | ACNI5 | tap
Acer rubrum | red maple | swamp maple; scarlet maple; october glory maple; red sunset maple; érable rouge; Rotahorn; Rot-Ahorn | ACRU | tap
Acer saccharinum | silver maple | white maple; river maple; érable argenté; Silberahorn; Silber-Ahorn | ACSA2 | tap
Acer negundo | boxelder | box elder; box-elder maple; Manitoba maple; ashleaf maple; ash-leaved maple; ash-leaf maple; érable négondo; érable à Giguère; érable du Manitoba; Eschenahorn; Eschen-Ahorn | ACNE2 | tap
Acer platanoides | Norway maple | crimson king maple; crimson king norway maple; emerald queen maple; schwedler maple; érable de Norvège; érable plane; Spitzahorn; Spitz-Ahorn | ACPL | tap
Acer macrophyllum | bigleaf maple | big leaf maple; Oregon maple | ACMA3 | tap
Acer grandidentatum | bigtooth maple | big tooth maple; canyon maple | ACGR3 | tap
Acer x freemanii | Freeman maple | autumn blaze maple; armstrong maple; érable de Freeman | ACFR |
Acer pseudoplatanus | sycamore maple | planetree maple; plane-tree maple; érable sycomore; Bergahorn; Berg-Ahorn | ACPS |
Acer campestre | hedge maple | field maple; érable champêtre; Feldahorn; Feld-Ahorn | ACCA5 |
Acer palmatum | Japanese maple | smooth japanese maple; japanese red maple; red japanese maple | ACPA2 |
Acer tataricum | Tatarian maple | tartarian maple | ACTA |
Acer ginnala | Amur maple | érable de l'Amour | ACGI |
Acer griseum | paperbark maple | | |
Acer truncatum | Shantung maple | pacific sunset maple | |
Acer buergerianum | trident maple | | |
Acer miyabei | Miyabe maple | state street maple | |
Acer pensylvanicum | striped maple | moosewood | ACPE |
Acer spicatum | mountain maple | | ACSP2 |
Acer circinatum | vine maple | | ACCI |
Acer triflorum | three-flower maple | | |
Fraxinus americana | white ash | frêne d'Amérique; frêne blanc | FRAM2 | alike
Fraxinus pennsylvanica | green ash | red ash; patmore ash; marshall ash; frêne rouge; frêne de Pennsylvanie | FRPE | alike
Fraxinus nigra | black ash | frêne noir | FRNI | alike
Fraxinus excelsior | European ash | common ash; frêne commun; frêne élevé; Esche; Gemeine Esche | FREX80 | alike
Fraxinus quadrangulata | blue ash | | FRQU | alike
Fraxinus mandshurica | Manchurian ash | | | alike
Platanus x hispanica | London plane | london planetree; london plane tree; platane; platane à feuilles d'érable; Platane | | alike
Platanus occidentalis | American sycamore | sycamore; american planetree; buttonwood | PLOC | alike
Aesculus hippocastanum | horse chestnut | horsechestnut; common horsechestnut; marronnier d'Inde; Rosskastanie; Gemeine Rosskastanie | AEHI | alike
Aesculus glabra | Ohio buckeye | buckeye | AEGL | alike
Aesculus flava | yellow buckeye | sweet buckeye | AEFL | alike
Aesculus x carnea | red horse chestnut | red horsechestnut; ruby horsechestnut | | alike
Liquidambar styraciflua | sweetgum | sweet gum; american sweetgum; Amberbaum | LIST2 | alike
Gleditsia triacanthos | honey locust | honeylocust; thornless honeylocust; common honeylocust; févier d'Amérique; Gleditschie | GLTR |
Robinia pseudoacacia | black locust | false acacia; robinier; Robinie | ROPS |
Gymnocladus dioicus | Kentucky coffeetree | kentucky coffee tree; coffeetree | GYDI |
Cladrastis kentukea | yellowwood | american yellowwood | |
Styphnolobium japonicum | Japanese pagodatree | pagoda tree; japanese pagoda tree; sophora; scholar tree | |
Cercis canadensis | eastern redbud | redbud | CECA4 |
Tilia americana | American linden | basswood; american basswood; tilleul d'Amérique | TIAM |
Tilia cordata | littleleaf linden | little leaf linden; small-leaved lime; small-leaved linden; tilleul à petites feuilles; Winterlinde; Winter-Linde | TICO2 |
Tilia tomentosa | silver linden | silver lime; Silberlinde; Silber-Linde | |
Tilia platyphyllos | bigleaf linden | large-leaved lime; large-leaved linden; Sommerlinde; Sommer-Linde | |
Tilia x europaea | common lime | european linden; common linden | |
Tilia mongolica | Mongolian linden | | |
Ulmus americana | American elm | white elm; orme d'Amérique | ULAM |
Ulmus pumila | Siberian elm | orme de Sibérie | ULPU |
Ulmus parvifolia | Chinese elm | lacebark elm; chinese lacebark elm | ULPA |
Ulmus rubra | slippery elm | red elm | ULRU |
Ulmus glabra | Scotch elm | wych elm | ULGL |
Ulmus thomasii | rock elm | | ULTH |
Ulmus minor | field elm | smoothleaf elm; european field elm | |
Zelkova serrata | Japanese zelkova | zelkova | ZESE80 |
Celtis occidentalis | hackberry | common hackberry; northern hackberry; micocoulier occidental | CEOC |
Quercus rubra | northern red oak | red oak; chêne rouge; Roteiche; Rot-Eiche | QURU |
Quercus alba | white oak | chêne blanc | QUAL |
Quercus bicolor | swamp white oak | chêne bicolore | QUBI |
Quercus macrocarpa | bur oak | burr oak; mossycup oak; chêne à gros fruits | QUMA2 |
Quercus palustris | pin oak | chêne des marais; Sumpfeiche | QUPA2 |
Quercus robur | English oak | pedunculate oak; columnar english oak; chêne pédonculé; Stieleiche; Stiel-Eiche | QURO2 |
Quercus coccinea | scarlet oak | | QUCO2 |
Quercus velutina | black oak | | QUVE |
Quercus imbricaria | shingle oak | | QUIM |
Quercus muehlenbergii | chinkapin oak | chinquapin oak; yellow oak | QUMU |
Quercus phellos | willow oak | | QUPH |
Quercus shumardii | Shumard oak | | QUSH |
Quercus ellipsoidalis | northern pin oak | hill's oak; hills oak | QUEL |
Quercus petraea | sessile oak | durmast oak; Traubeneiche | |
Betula papyrifera | paper birch | white birch; canoe birch; bouleau à papier | BEPA |
Betula nigra | river birch | | BENI |
Betula pendula | silver birch | european white birch; weeping birch; european birch; bouleau verruqueux; Hängebirke; Hänge-Birke; Sandbirke | BEPE3 |
Betula alleghaniensis | yellow birch | bouleau jaune | BEAL2 |
Betula populifolia | gray birch | grey birch | BEPO |
Betula lenta | sweet birch | black birch | BELE |
Pyrus calleryana | Callery pear | bradford pear; flowering pear; ornamental pear; cleveland select pear | PYCA80 |
Pyrus communis | common pear | pear | PYCO |
Malus domestica | common apple | apple; domestic apple | |
Malus baccata | Siberian crabapple | | MABA |
Prunus serotina | black cherry | wild black cherry; cerisier tardif | PRSE2 |
Prunus serrulata | Japanese flowering cherry | kwanzan cherry; japanese cherry | |
Prunus virginiana | chokecherry | choke cherry; schubert chokecherry; schubert cherry; canada red chokecherry | PRVI |
Prunus pensylvanica | pin cherry | fire cherry | PRPE2 |
Prunus avium | sweet cherry | wild cherry; mazzard; Vogelkirsche; Vogel-Kirsche | PRAV |
Prunus cerasifera | cherry plum | purpleleaf plum; purple-leaf plum; myrobalan plum | |
Prunus maackii | Amur chokecherry | amur cherry | |
Prunus sargentii | Sargent cherry | | |
Prunus padus | European bird cherry | mayday tree; bird cherry | |
Crataegus crus-galli | cockspur hawthorn | thornless cockspur hawthorn | CRCR2 |
Crataegus phaenopyrum | Washington hawthorn | | |
Crataegus monogyna | common hawthorn | single-seed hawthorn | CRMO3 |
Crataegus laevigata | English hawthorn | | |
Amelanchier laevis | Allegheny serviceberry | | |
Amelanchier canadensis | shadblow serviceberry | eastern serviceberry; canadian serviceberry | |
Sorbus aucuparia | European mountain ash | rowan; european mountainash; sorbier des oiseaux; Vogelbeere; Eberesche | SOAU |
Sorbus americana | American mountain ash | american mountainash | SOAM3 |
Sorbus intermedia | Swedish whitebeam | swedish mountain ash | |
Syringa reticulata | Japanese tree lilac | tree lilac; ivory silk lilac; ivory silk tree lilac | SYRE2 |
Ginkgo biloba | ginkgo | maidenhair tree; gingko; Ginkgobaum | GIBI2 |
Liriodendron tulipifera | tulip tree | tuliptree; yellow poplar; tulip poplar; Tulpenbaum | LITU |
Magnolia acuminata | cucumbertree | cucumber tree; cucumber magnolia | MAAC |
Magnolia x soulangeana | saucer magnolia | | |
Magnolia stellata | star magnolia | | |
Catalpa speciosa | northern catalpa | western catalpa; hardy catalpa | CASP8 |
Catalpa bignonioides | southern catalpa | common catalpa | CABI8 |
Ailanthus altissima | tree of heaven | ailanthus | AIAL |
Morus alba | white mulberry | weeping mulberry | MOAL |
Morus rubra | red mulberry | | MORU2 |
Juglans nigra | black walnut | noyer noir | JUNI |
Juglans cinerea | butternut | white walnut; noyer cendré | JUCI |
Juglans regia | English walnut | persian walnut; Walnuss | |
Carya ovata | shagbark hickory | | CAOV2 |
Carya cordiformis | bitternut hickory | | CACO15 |
Carya glabra | pignut hickory | | CAGL8 |
Carpinus betulus | European hornbeam | common hornbeam; charme commun; Hainbuche | CABE8 |
Carpinus caroliniana | American hornbeam | blue beech; musclewood | CACA18 |
Ostrya virginiana | American hophornbeam | ironwood; hophornbeam; hop hornbeam; eastern hophornbeam | OSVI |
Fagus sylvatica | European beech | copper beech; purple beech; hêtre commun; Rotbuche; Rot-Buche | FASY |
Fagus grandifolia | American beech | hêtre à grandes feuilles | FAGR |
Castanea dentata | American chestnut | | CADE12 |
Corylus colurna | Turkish filbert | turkish hazel; turkish hazelnut; Baumhasel | |
Alnus glutinosa | black alder | european alder; common alder; Schwarzerle; Schwarz-Erle | ALGL2 |
Nyssa sylvatica | black gum | blackgum; black tupelo; tupelo | NYSY |
Cercidiphyllum japonicum | katsura | katsura tree; katsuratree | |
Phellodendron amurense | Amur corktree | amur cork tree; corktree | |
Koelreuteria paniculata | goldenrain tree | golden raintree; golden rain tree; goldenraintree | |
Eucommia ulmoides | hardy rubber tree | | |
Maackia amurensis | Amur maackia | | |
Cornus florida | flowering dogwood | | COFL2 |
Cornus kousa | kousa dogwood | | |
Cornus mas | cornelian cherry | corneliancherry dogwood | |
Sassafras albidum | sassafras | | SAAL5 |
Elaeagnus angustifolia | Russian olive | oleaster | ELAN |
Populus deltoides | eastern cottonwood | cottonwood; peuplier deltoïde | PODE3 |
Populus tremuloides | quaking aspen | trembling aspen; peuplier faux-tremble | POTR5 |
Populus grandidentata | bigtooth aspen | largetooth aspen | POGR4 |
Populus balsamifera | balsam poplar | peuplier baumier | POBA2 |
Populus alba | white poplar | silver poplar | POAL7 |
Populus nigra | black poplar | lombardy poplar | PONI |
Salix babylonica | weeping willow | saule pleureur | |
Salix nigra | black willow | saule noir | SANI |
Salix alba | white willow | golden willow | SAAL2 |
Picea abies | Norway spruce | épinette de Norvège; Fichte | PIAB |
Picea glauca | white spruce | épinette blanche | PIGL |
Picea pungens | blue spruce | colorado spruce; colorado blue spruce; épinette bleue | PIPU |
Picea mariana | black spruce | épinette noire | PIMA |
Picea omorika | Serbian spruce | | |
Pinus strobus | eastern white pine | white pine; pin blanc | PIST |
Pinus resinosa | red pine | pin rouge | PIRE |
Pinus sylvestris | Scots pine | scotch pine; pin sylvestre; Waldkiefer | PISY |
Pinus nigra | Austrian pine | black pine; pin noir | PINI |
Pinus banksiana | jack pine | pin gris | PIBA2 |
Abies balsamea | balsam fir | sapin baumier | ABBA |
Abies concolor | white fir | concolor fir | ABCO |
Pseudotsuga menziesii | Douglas fir | douglas-fir; douglasfir | PSME |
Tsuga canadensis | eastern hemlock | hemlock; canada hemlock | TSCA |
Larix laricina | tamarack | american larch; eastern larch; mélèze laricin | LALA |
Larix decidua | European larch | mélèze d'Europe | LADE2 |
Thuja occidentalis | northern white cedar | eastern white cedar; white cedar; eastern arborvitae; american arborvitae; cèdre blanc | THOC2 |
Juniperus virginiana | eastern redcedar | eastern red cedar; red cedar | JUVI |
Taxodium distichum | bald cypress | baldcypress; common baldcypress | TADI2 |
Metasequoia glyptostroboides | dawn redwood | | |
"""

# Genus alone, for "maple", "Acer sp." and kinds not listed above: botanical | common | other names | PLANTS symbol | mark
GENUS_TABLE = """
Acer | maple | érable; Ahorn; soft maple | ACER |
Fraxinus | ash | frêne | FRAXI | alike
Platanus | plane | planetree; plane tree | PLATA | alike
Aesculus | buckeye or horse chestnut | marronnier; Kastanie | AESCU | alike
Liquidambar | sweetgum kind | | LIQUI | alike
Tilia | linden | lime; tilleul; Linde | TILIA |
Ulmus | elm | orme; Ulme | ULMUS |
Celtis | hackberry kind | micocoulier | CELTI |
Quercus | oak | chêne; Eiche | QUERC |
Betula | birch | bouleau; Birke | BETUL |
Pyrus | pear kind | poirier | PYRUS |
Malus | crabapple | crab apple; flowering crabapple; flowering crab; pommetier; Zierapfel | MALUS |
Prunus | cherry or plum | cherry; plum; flowering cherry; flowering plum; cerisier; prunier; Kirsche | PRUNU |
Crataegus | hawthorn | aubépine; Weissdorn | CRATA |
Amelanchier | serviceberry | juneberry; amélanchier | AMELA |
Sorbus | mountain ash | mountainash; sorbier | SORBU |
Syringa | lilac | lilas | SYRIN |
Magnolia | magnolia | | MAGNO |
Catalpa | catalpa | | CATAL |
Morus | mulberry | mûrier | MORUS |
Juglans | walnut | noyer | JUGLA |
Carya | hickory | caryer | CARYA |
Carpinus | hornbeam | charme | CARPI |
Fagus | beech | hêtre; Buche | FAGUS |
Castanea | chestnut | châtaignier | CASTA |
Corylus | hazel | hazelnut; filbert | CORYL |
Alnus | alder | aulne; Erle | ALNUS |
Cornus | dogwood | cornouiller | CORNU |
Populus | poplar | aspen; peuplier; Pappel | POPUL |
Salix | willow | saule; Weide | SALIX |
Picea | spruce | épinette | PICEA |
Pinus | pine | pin; Kiefer | PINUS |
Abies | fir | sapin; Tanne | ABIES |
Larix | larch | mélèze; Lärche | LARIX |
Thuja | arborvitae | cedar; thuya | THUJA |
Juniperus | juniper | genévrier | JUNIP |
Ginkgo | ginkgo kind | | |
Gleditsia | honey locust kind | févier | GLEDI |
Robinia | locust | | ROBIN |
Cercis | redbud kind | | CERCI |
Liriodendron | tulip tree kind | | |
Zelkova | zelkova kind | | |
Elaeagnus | olive kind | | |
Nyssa | tupelo kind | | |
Ostrya | hophornbeam kind | | |
Tsuga | hemlock kind | | TSUGA |
Taxodium | cypress kind | | |
Ailanthus | ailanthus kind | | |
Cercidiphyllum | katsura kind | | |
Cladrastis | yellowwood kind | | |
Eucommia | rubber tree kind | | |
Gymnocladus | coffeetree kind | | |
Koelreuteria | goldenrain tree kind | | |
Maackia | maackia kind | | |
Metasequoia | dawn redwood kind | | |
Phellodendron | corktree kind | | |
Pseudotsuga | Douglas fir kind | | |
Sassafras | sassafras kind | | |
Styphnolobium | pagodatree kind | | |
"""

# Names that botany has replaced, and varieties that are kinds of their own here.
SYNONYMS = {
    "acer saccharum nigrum": "Acer nigrum",
    "acer saccharum grandidentatum": "Acer grandidentatum",
    "acer saccharophorum": "Acer saccharum",
    "acer barbatum": "Acer",
    "acer dasycarpum": "Acer saccharinum",
    "acer tataricum ginnala": "Acer ginnala",
    "acer freemanii": "Acer x freemanii",
    "acer freemannii": "Acer x freemanii",
    "negundo aceroides": "Acer negundo",
    "platanus acerifolia": "Platanus x hispanica",
    "platanus hybrida": "Platanus x hispanica",
    "aesculus octandra": "Aesculus flava",
    "fraxinus lanceolata": "Fraxinus pennsylvanica",
    "gleditsia triacanthos inermis": "Gleditsia triacanthos",
    "gleditschia triacanthos": "Gleditsia triacanthos",
    "sophora japonica": "Styphnolobium japonicum",
    "cladrastis lutea": "Cladrastis kentukea",
    "gymnocladus dioica": "Gymnocladus dioicus",
    "tilia vulgaris": "Tilia x europaea",
    "tilia x vulgaris": "Tilia x europaea",
    "quercus borealis": "Quercus rubra",
    "quercus pedunculata": "Quercus robur",
    "betula alba": "Betula pendula",
    "betula verrucosa": "Betula pendula",
    "betula lutea": "Betula alleghaniensis",
    "malus pumila": "Malus domestica",
    "malus sylvestris": "Malus",
    "ginkgo bilboa": "Ginkgo biloba",
    "crataegus oxyacantha": "Crataegus laevigata",
    "syringa amurensis": "Syringa reticulata",
    "picea excelsa": "Picea abies",
}

# Crosses written as a formula.
CROSSES = {
    frozenset({"acer rubrum", "acer saccharinum"}): "Acer x freemanii",
    frozenset({"platanus occidentalis", "platanus orientalis"}): "Platanus x hispanica",
}

# Street lists that number a doubled short code in their own way; PLANTS gives ACSA2 to silver maple.
# From memory of the Forest Service's urban tree data; no copy could be opened.
STREET_CODES = {"ACSA1": "Acer saccharinum", "ACSA2": "Acer saccharum"}
