-- narrowgauge.lua - the narrowgauge server in Neovim 0.7 or later.
--
-- Copy this file to ~/.config/nvim/plugin/ (Neovim loads it by itself), or
-- source it from your init.lua with dofile. No plugin manager is needed.
-- What you want different, say before, in init.lua:
--
--   vim.g.narrowgauge = {
--     cmd = { '/opt/bin/narrowgauge', 'serve' },  -- default: see server_folders
--     settings = { arch = 'armv6-m' },            -- narrowgauge.json wins
--     keymaps = false,                            -- default: those below
--     hints = false,                              -- default: shown at the ends of lines
--   }
--
-- narrowgauge_target() is what the source is taken for, for a status line:
--
--   vim.o.statusline = '%f %m%=%{v:lua.narrowgauge_target()} %l:%c'
--
-- narrowgauge_where() is where the line at the cursor is in its section, with its routine and
-- the bytes of that:
--
--   vim.o.statusline = '%f %m%=%{v:lua.narrowgauge_where()} %{v:lua.narrowgauge_target()} %l:%c'
--
-- :NarrowgaugeTarget says what tells it, in a sentence.

local options = vim.tbl_extend('keep', vim.g.narrowgauge or {}, {
  cmd = { 'narrowgauge', 'serve' },
  settings = vim.empty_dict(),
  keymaps = true,
  hints = true,
})

--- Where the server is looked for besides PATH: where it is installed by
--- hand, and where Go puts programs.
local function server_folders()
  local folders = { vim.fn.expand('~/.local/bin') }
  if (vim.env.GOBIN or '') ~= '' then
    table.insert(folders, vim.env.GOBIN)
  end
  if (vim.env.GOPATH or '') ~= '' then
    for _, folder in ipairs(vim.split(vim.env.GOPATH, vim.fn.has('win32') == 1 and ';' or ':')) do
      table.insert(folders, folder .. '/bin')
    end
  end
  table.insert(folders, vim.fn.expand('~/go/bin'))
  return folders
end

--- The command that starts the server, or nil where nothing can be run.
local function server_command()
  local name = options.cmd[1]
  if vim.fn.executable(name) == 1 then
    return options.cmd
  end
  if name:find('[/\\]') then
    return nil
  end
  for _, folder in ipairs(server_folders()) do
    if vim.fn.executable(folder .. '/' .. name) == 1 then
      return vim.list_extend({ folder .. '/' .. name }, vim.list_slice(options.cmd, 2))
    end
  end
end

local told = false -- that the server was not found: once is enough

local function say_not_found()
  if told then
    return
  end
  told = true
  vim.notify(
    'narrowgauge: there is no ' .. options.cmd[1] .. ' to run, in PATH, in ~/.local/bin or in Go\'s folder for programs.\n'
      .. 'To build it, in a clone of its repository, with Go:\n'
      .. '  go build -o narrowgauge ./cmd/lsp\n'
      .. '  install -D -m 755 narrowgauge ~/.local/bin/narrowgauge\n'
      .. 'Then open the file again. If it is elsewhere, say where in init.lua:\n'
      .. "  vim.g.narrowgauge = { cmd = { '/path/to/narrowgauge', 'serve' } }",
    vim.log.levels.WARN
  )
end

--- The nearest folder at or above that of the file which holds one of the
--- names, or nil. (vim.fs came with Neovim 0.8.)
local function ancestor_with(file, names)
  local folder = vim.fn.fnamemodify(file, ':p:h')
  while true do
    for _, name in ipairs(names) do
      if vim.loop.fs_stat(folder .. '/' .. name) then
        return folder
      end
    end
    local parent = vim.fn.fnamemodify(folder, ':h')
    if parent == folder then
      return nil
    end
    folder = parent
  end
end

--- The project of a file: where narrowgauge.json is, else the repository,
--- else the file's own folder.
local function root_of(file)
  return ancestor_with(file, { 'narrowgauge.json' })
    or ancestor_with(file, { '.git' })
    or vim.fn.fnamemodify(file, ':p:h')
end

--- Offers the rewrites for all findings on the cursor's line, wherever the
--- cursor is in it.
local function rewrites_of_line()
  local row = vim.api.nvim_win_get_cursor(0)[1]
  local first = { row, 0 }
  local last = { row, math.max(#vim.api.nvim_get_current_line() - 1, 0) }
  if vim.fn.has('nvim-0.8') == 1 then
    vim.lsp.buf.code_action({ range = { start = first, ['end'] = last } })
  else
    vim.lsp.buf.range_code_action(nil, first, last)
  end
end

--- Lays out the lines of the buffer; vim.lsp.buf.format came with Neovim 0.8.
local function lay_out()
  if vim.lsp.buf.format then
    vim.lsp.buf.format({ name = 'narrowgauge' })
  else
    vim.lsp.buf.formatting_sync(nil, 20000)
  end
end

--- Lays out the lines that are selected.
local function lay_out_selection()
  local first, last = vim.fn.line('v'), vim.fn.line('.')
  if first > last then
    first, last = last, first
  end
  last = { last, #vim.fn.getline(last) }
  if vim.lsp.buf.format then
    vim.lsp.buf.format({ name = 'narrowgauge', range = { start = { first, 0 }, ['end'] = last } })
  else
    vim.lsp.buf.range_formatting(nil, { first, 0 }, last)
  end
  vim.api.nvim_feedkeys(vim.api.nvim_replace_termcodes('<Esc>', true, false, true), 'n', false)
end

local toggle_hints -- defined below

--- Suggested keys, in buffers with the server only.
local function set_keymaps(buffer)
  local function map(keys, action, what, mode)
    vim.keymap.set(mode or 'n', keys, action, { buffer = buffer, desc = what })
  end
  map('K', vim.lsp.buf.hover, 'What is this instruction, register or symbol?')
  map('gd', vim.lsp.buf.definition, 'Go to the definition')
  map('gr', vim.lsp.buf.references, 'Where it is named, in all files')
  map('<Leader>r', vim.lsp.buf.rename, 'Give it another name, in all files')
  map('gO', vim.lsp.buf.document_symbol, 'Outline of the file')
  map('<Leader>a', rewrites_of_line, 'Rewrites for the findings on this line')
  map('<Leader>e', vim.diagnostic.open_float, 'The finding here in full')
  map('<Leader>f', lay_out, 'Lay out the lines of the file')
  map('<Leader>f', lay_out_selection, 'Lay out the lines selected', 'x')
  map('<Leader>h', function()
    toggle_hints(buffer)
  end, 'Show or hide the hints at the ends of lines')
  map('<Leader>c', vim.lsp.buf.incoming_calls, 'Who calls this routine?')
  map('<C-s>', vim.lsp.buf.signature_help, 'Forms of this instruction', 'i')
  map('[d', vim.diagnostic.goto_prev, 'Finding before')
  map(']d', vim.diagnostic.goto_next, 'Finding after')
end

--- The hints at the ends of lines. Neovim has them itself from 0.10 on; before that they
--- are asked for here, of the lines around the window.
local hint_space = vim.api.nvim_create_namespace('narrowgauge_hints')
local hints_shown = {} -- buffer -> client that is asked
local hints_asked = {} -- buffer -> number of the last request
local around = 100 -- lines before and after those in the window

local function ask_hints(buffer)
  local client = vim.lsp.get_client_by_id(hints_shown[buffer] or -1)
  local window = vim.fn.bufwinid(buffer)
  if not client or window < 0 or vim.lsp.inlay_hint then
    return
  end
  local count = vim.api.nvim_buf_line_count(buffer)
  local first = math.max(vim.fn.line('w0', window) - 1 - around, 0)
  local last = math.min(vim.fn.line('w$', window) + around, count)
  local asked = (hints_asked[buffer] or 0) + 1
  hints_asked[buffer] = asked
  client.request('textDocument/inlayHint', {
    textDocument = { uri = vim.uri_from_bufnr(buffer) },
    range = { start = { line = first, character = 0 }, ['end'] = { line = last, character = 0 } },
  }, function(problem, hints)
    if problem or hints_asked[buffer] ~= asked or not hints_shown[buffer] or not vim.api.nvim_buf_is_loaded(buffer) then
      return
    end
    vim.api.nvim_buf_clear_namespace(buffer, hint_space, 0, -1)
    for _, hint in ipairs(hints or {}) do
      local text = hint.label
      if type(text) == 'table' then
        text = table.concat(vim.tbl_map(function(part)
          return part.value
        end, text))
      end
      -- Beyond the end is a line that has been taken out since.
      pcall(vim.api.nvim_buf_set_extmark, buffer, hint_space, hint.position.line, 0, { virt_text = { { text, 'Comment' } } })
    end
  end, buffer)
end

--- Asks again a moment after the last change.
local function soon(buffer)
  local number = (hints_asked[buffer] or 0) + 1
  hints_asked[buffer] = number
  vim.defer_fn(function()
    if hints_asked[buffer] == number and vim.api.nvim_buf_is_loaded(buffer) then
      ask_hints(buffer)
    end
  end, 200)
end

local function show_hints(client, buffer, shown)
  if vim.lsp.inlay_hint then
    vim.lsp.inlay_hint.enable(shown, { bufnr = buffer })
  end
  hints_shown[buffer] = shown and client.id or nil
  if shown then
    ask_hints(buffer)
  else
    vim.api.nvim_buf_clear_namespace(buffer, hint_space, 0, -1)
  end
end

local function follow_hints(client, buffer)
  show_hints(client, buffer, options.hints)
  vim.api.nvim_create_autocmd({ 'TextChanged', 'InsertLeave', 'WinScrolled', 'BufWinEnter' }, {
    buffer = buffer,
    callback = function()
      if hints_shown[buffer] then
        soon(buffer)
      end
    end,
  })
end

local ask_target -- defined below

local function on_attach(client, buffer)
  if options.keymaps then
    set_keymaps(buffer)
  end
  follow_hints(client, buffer)
  -- Completion by CTRL-X CTRL-O; Neovim 0.8 and later set it themselves.
  vim.api.nvim_buf_set_option(buffer, 'omnifunc', 'v:lua.vim.lsp.omnifunc')
  vim.api.nvim_create_autocmd('CursorHold', {
    buffer = buffer,
    callback = function()
      if vim.lsp.buf_is_attached(buffer, client.id) then
        ask_target(client, buffer)
      end
    end,
  })
end

--- Keeps what the server says of a buffer's target: b:narrowgauge_target is
--- a few words, b:narrowgauge_target_text a sentence.
local function keep_target(target)
  if not target then
    return
  end
  local buffer = vim.uri_to_bufnr(target.uri)
  if not vim.api.nvim_buf_is_valid(buffer) then
    return
  end
  vim.b[buffer].narrowgauge_target = target.short
  vim.b[buffer].narrowgauge_target_text = target.text
  if target.where then -- an answer for the cursor; a notification has none
    vim.b[buffer].narrowgauge_where = target.where.short
  end
  pcall(vim.cmd, 'redrawstatus!')
end

--- What the source in the window is taken for, in a few words, for a status
--- line; empty where nothing is known.
function _G.narrowgauge_target()
  return vim.b.narrowgauge_target or ''
end

--- Where the line at the cursor is in its section, its routine, and the bytes of that, for a
--- status line; empty where nothing is known.
function _G.narrowgauge_where()
  return vim.b.narrowgauge_where or ''
end

--- Asks for the target where the cursor is; the answer goes to done, if given.
function ask_target(client, buffer, done)
  local encoding = client.offset_encoding
  local params = vim.lsp.util.make_position_params(0, encoding)
  client.request('narrowgauge/target', params, function(problem, target)
    if not problem then
      keep_target(target)
      if done then
        done(target)
      end
    end
  end, buffer)
end

--- The running server of a buffer, or nil.
local function client_of(buffer)
  local list = vim.lsp.get_clients or vim.lsp.get_active_clients -- the older name up to 0.9
  for _, client in pairs(list({ name = 'narrowgauge' })) do
    if client.name == 'narrowgauge' and vim.lsp.buf_is_attached(buffer, client.id) then
      return client
    end
  end
end

function toggle_hints(buffer)
  local client = client_of(buffer)
  if client then
    show_hints(client, buffer, not hints_shown[buffer])
  end
end

vim.api.nvim_create_user_command('NarrowgaugeTarget', function()
  local client = client_of(vim.api.nvim_get_current_buf())
  if client then
    ask_target(client, vim.api.nvim_get_current_buf(), function(target)
      vim.notify(target.text)
    end)
  end
end, { desc = 'What this source is taken for, and what tells it' })

--- What this client can do: what Neovim can, and to take the target.
local function capabilities()
  local can = vim.lsp.protocol.make_client_capabilities()
  can.experimental = vim.tbl_extend('force', can.experimental or {}, { narrowgaugeTarget = true })
  return can
end

local clients = {} -- root folder -> client id, for Neovim 0.7

--- Starts the server for the project of the buffer, or attaches the one that
--- runs already.
local function attach(buffer)
  local file = vim.api.nvim_buf_get_name(buffer)
  if file == '' or vim.bo[buffer].buftype ~= '' then
    return
  end
  local cmd = server_command()
  if not cmd then
    say_not_found()
    return
  end
  told = false
  local root = root_of(file)
  local config = {
    name = 'narrowgauge',
    cmd = cmd,
    root_dir = root,
    workspace_folders = { { uri = vim.uri_from_fname(root), name = root } },
    init_options = options.settings,
    settings = { narrowgauge = options.settings },
    on_attach = on_attach,
    capabilities = capabilities(),
    handlers = {
      ['narrowgauge/targetChanged'] = function(_, target)
        keep_target(target)
      end,
    },
  }
  if vim.lsp.start then
    vim.lsp.start(config, { bufnr = buffer })
    return
  end
  config.on_exit = function()
    clients[root] = nil
  end
  if not clients[root] then
    clients[root] = vim.lsp.start_client(config)
  end
  if clients[root] then
    vim.lsp.buf_attach_client(buffer, clients[root])
  end
end

local group = vim.api.nvim_create_augroup('narrowgauge', { clear = true })

vim.api.nvim_create_autocmd({ 'BufRead', 'BufNewFile' }, {
  group = group,
  pattern = { '*.s', '*.S', '*.sx', '*.asm' },
  callback = function()
    vim.bo.filetype = 'asm'
  end,
})

-- Many languages have *.inc; a project file above says that it is ours.
vim.api.nvim_create_autocmd({ 'BufRead', 'BufNewFile' }, {
  group = group,
  pattern = '*.inc',
  callback = function(event)
    if ancestor_with(event.file, { 'narrowgauge.json' }) then
      vim.bo.filetype = 'asm'
    end
  end,
})

vim.api.nvim_create_autocmd('FileType', {
  group = group,
  pattern = { 'asm', 'arm' },
  callback = function(event)
    vim.bo[event.buf].commentstring = '@ %s'
    attach(event.buf)
  end,
})
