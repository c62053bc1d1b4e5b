"""Everyday words over the columns of logs in German, French, Spanish and Norwegian.

General vocabulary, from memory: only ever a proposal, which a person reads and corrects. Written
without accents, as `etl.load.names` compares; a word is found inside a longer heading, too.
"""

from __future__ import annotations

FOREIGN: dict[str, str] = {
    "service_point": "einbauort einbaustelle stelle ort platz repere emplacement poste punto"
                     " ubicacion posicion sted posisjon plassering",
    "application_class": "einsatz anwendung verwendung aplicacion uso emploi utilisation bruk",
    "site": "werk standort usine planta anlegg fabrikk fabrik",
    "area": "bereich abteilung gebaude atelier batiment secteur zona edificio omrade avdeling",
    "line": "linie ligne linea linje",
    "equipment": "maschine aggregat equipement maquina equipo maskin utstyr",
    "medium": "stoff fluide produit fluido medio vaeske",
    "hazards": "gefahr gefahren dangers risques peligro riesgo fare farer",
    "dn": "nennweite diametre diametro",
    "pressure_bar": "druck betriebsdruck pression presion trykk",
    "temperature_c": "temperatur temperatura",
    "live_length_mm": "lange longueur longitud lengde",
    "commissioned_on": "inbetriebnahme mise_en_service puesta_en_servicio puesta_en_marcha"
                       " idriftsatt in_service_since",
    "retired_on": "stillgelegt",
    "construction": "bauart schlauchtyp slangetype",
    "part_number": "artikel artikelnummer teilenummer materialnummer reference referencia articulo"
                   " varenummer delenummer",
    "lead_time_days": "lieferzeit delai plazo leveringstid",
    "installed_on": "eingebaut einbau einbaudatum montiert pose posee montage montaje montado"
                    " instalado montert innsatt montering",
    "removed_on": "ausgebaut ausbau ausbaudatum demontage demontiert getauscht gewechselt depose"
                  " remplace desmontaje retirado sustituido utbytting utskiftet utskifting"
                  " demontert date_out taken_out",
    "hose_id": "schlauch schlauchnummer seriennummer flexible serie manguera slange slangenummer"
               " serienummer tag",
    "work_order": "auftrag auftragsnummer intervention ordre orden arbeidsordre",
    "reason": "grund ursache motif raison motivo causa arsak grunn",
    "mechanism": "schaden schadensbild dommage dano skade",
    "part_cost": "coste kostnad pris",
    "labour_cost": "main_d_oeuvre mano_de_obra arbeidskostnad",
    "downtime_h": "stillstand ausfallzeit arret parada nedetid stopptid",
    "planned": "geplant prevu planificado planlagt",
    "inspected_on": "gepruft prufdatum prufung inspektion controle inspeccion kontrollert kontroll",
    "condition": "zustand etat estado tilstand",
    "note": "bemerkung remarque commentaire observaciones comentario merknad",
    "examined_on": "untersucht examinado undersokt",
    "finding": "befund constat hallazgo funn",
    "read_on": "ablesedatum abgelesen ablesung releve lectura avlest",
    "clock": "zahler compteur contador",
    "reading": "zahlerstand betriebsstunden avlesning malerstand horas heures timer",
    "as_of": "inventurdatum inventur inventaire comptage recuento inventario telling",
    "on_hand": "bestand lagerbestand existencias cantidad beholdning antall quantite",
    "on_order": "bestellt commande pedido bestilt",
}
"""Our column -> words of a heading, joined by ``_`` where only all of them together mean it."""
