-- base.note: one row, what the base rests on and what decides whether rows can be added to it.
-- Reads clean.data_date, clean.refused, clean.row_faults, clean.cell_faults.
create or replace table base.note as
select
    $sign as sign, as_of, looks_to, $believable::date as believable, $latest::date as latest,
    -- From that day on rows count that are refused so far.
    (select min(try_cast(value as date)) from clean.refused where reason = $too_late)
        as first_later_on, (
        select count(distinct (log, column_name, value))
        from (from clean.row_faults union all from clean.cell_faults) where reason = $no_word
    ) as n_unknown_words
from clean.data_date
