import { mount } from 'svelte'
import '@fontsource-variable/atkinson-hyperlegible-next/wght.css'
import './theme/tokens.css'
import './theme/base.css'
import Shell from './shell/Shell.svelte'

mount(Shell, { target: document.body })
