-- Every refused row says where it stands, why, and what to do. Returns those that do not.
select log, load_id, entry_no, source_row, reason, remedy
from clean.refused
where source_file is null or reason is null or remedy is null or source_file like '%/%'
order by log, load_id, entry_no, source_row, reason
