-- results.spares_stand_ins: one row per part and part that could stand in for it, with what speaks against it.
-- Reads spares_stand_ins_frame.
create or replace table results.spares_stand_ins as
select
    part_number, stand_in, stand_in_construction, basis, is_approved::boolean as is_approved, n_places::integer as n_places,
    n_places_met::integer as n_places_met, objection, on_hand::integer as on_hand, spare::integer as spare,
    stock_level_with_stand_in::integer as stock_level_with_stand_in
from spares_stand_ins_frame
order by part_number, stand_in
